"""Erases one person from the store, from spools, and from recordings.

Findings stay, without the person, because trends need them.  The person's row is deleted last, so that a run that was
interrupted can be repeated.  `NOT_REACHED` names what this cannot reach.

Takes: a pseudonym, a store, the data directory.  Gives: `ErasureReport`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Connection, Engine, Table, Text, delete, func, select, type_coerce, update

from bridge.privacy import redact_recordings, vacuum
from bridge.privacy.pseudonyms import Redactor, parse_pseudonym
from bridge.privacy.redact_recordings import RecordingScan, RedactionResult
from bridge.recording.live_file import ACTIVE_WITHIN_S
from bridge.recording.recording_budget import RecordingFiles, list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import read_transaction, write_transaction
from bridge.store.spool import decode_line, spool_paths
from bridge.store.store_writer import REFUSED_SUFFIX, StoreWriter
from rules.faults import Fault, InputFaults, Place
from rules.source import unknown_fault

NOT_REACHED = (
    "Not reached: debriefs, exports and logs that were written; programs that received messages; recordings in other folders; "
    "copies and backups; the write-ahead log of a PostgreSQL server; removed files that are still on the disk."
)
Progress = Callable[[int, int], None]


@dataclass(slots=True)
class ErasureReport:
    """The result of an erasure.

    Attributes:
        sessions: The number of sessions in which the person sat.
        findings: The number of findings on the person.
        texts: The number of texts in the store in which the pseudonym was overwritten.
        redacted: Recordings in which the pseudonym was overwritten.
        removed: Recordings that were removed because they could not be rewritten.
        unreadable: Recordings that cannot be read completely and are not known to be the person's; they stay.
        open_sessions: The person's sessions that have not ended in the store: a watch elsewhere may still write to them.
        problem: The reason why the database still contains deleted data; '' if it does not.
    """

    sessions: int = 0
    findings: int = 0
    texts: int = 0
    redacted: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    unreadable: list[str] = field(default_factory=list)
    open_sessions: list[str] = field(default_factory=list)
    problem: str = ""


def erase(
    pseudonym: str, engine: Engine, data_dir: DataDir, store_url: str, progress: Progress = lambda *_: None
) -> ErasureReport:
    """Erase a person; a repetition finishes an interrupted run.

    Args:
        pseudonym: The pseudonym.
        engine: The store, open.
        data_dir: The data directory.
        store_url: The address of the store, to which waiting spools are written first.
        progress: Called with the number of recordings read since the last call, and their total.

    Raises:
        InputFaults: A watch runs, a recording cannot be read or written, or the pseudonym is unknown; the store is
            unchanged then.
    """
    name = parse_pseudonym(pseudonym)
    # List recordings before spools: a session that starts between the two then has a spool, and is noticed.
    recordings = list_recordings(data_dir.recordings)
    _drain_spools(name, data_dir, store_url)
    with read_transaction(engine) as connection:
        redactor = redactor_for(connection, name)
        person_recordings = _recordings_of_person(connection, redactor)
        _check_not_recording(connection, name, recordings)
        known = bool(_person_ids(connection, redactor)) or _is_requester(connection, redactor)
    scans = _scan_recordings(recordings, redactor, progress)
    if not known and not any(scan.names_person for _, scan in scans):
        return _resume_or_fail(engine, name)
    report = ErasureReport()
    _redact_files(data_dir, scans, redactor, person_recordings, report)
    with write_transaction(engine) as connection:
        _erase_from_tables(connection, redactor, report)
    report.problem = vacuum.run_vacuum(engine)
    return report


def redactor_for(connection: Connection, name: str) -> Redactor:
    """Return a redactor that leaves the pseudonym where it is part of another person's."""
    return Redactor(name, excluded=connection.execute(select(schema.person.c.pseudonym)).scalars().all())


def _drain_spools(name: str, data_dir: DataDir, store_url: str) -> None:
    """Write waiting spools into the store.

    Raises:
        InputFaults: A watch has one open, or the store does not accept them.
    """
    writer = StoreWriter(data_dir.spool, store_url)
    writer.finish()
    if writer.problem:
        reason = f"waiting records cannot be stored ({writer.problem})"
        raise InputFaults([Fault(Place(name), reason, hint="try again when the store can be reached")])
    if spool_paths(data_dir.spool):
        reason = "a watch is running: its records cannot be erased"
        raise InputFaults([Fault(Place(name), reason, hint="end the watch and try again")])


def _check_not_recording(connection: Connection, name: str, stored: Iterable[RecordingFiles]) -> None:
    """Check that no recording is being written.

    Raises:
        InputFaults: A recording was just touched, and its session has not ended in the store.
    """
    row = schema.session.c
    ended = set(connection.execute(select(row.recording).where(row.ending != "")).scalars())
    for recording in stored:
        if recording.stem not in ended and abs(time.time() - recording.modified_utc) < ACTIVE_WITHIN_S:
            reason = f"the recording {recording.stem} is being written now"
            hint = f"end the watch, and try again after {ACTIVE_WITHIN_S:.0f} s"
            raise InputFaults([Fault(Place(name), reason, hint=hint)])


def _person_ids(connection: Connection, redactor: Redactor) -> list[int]:
    """Return the rows of the person, in any spelling of the pseudonym."""
    rows = connection.execute(select(schema.person.c.id, schema.person.c.pseudonym))
    return [row.id for row in rows if redactor.matches(row.pseudonym)]


def _is_requester(connection: Connection, redactor: Redactor) -> bool:
    """Return True if this is the name of a requester, and not of a seat."""
    seats = {
        seat for titles in connection.execute(select(schema.session.c.seats)).scalars() for seat in titles
    }
    requesters = [
        by
        for column in (schema.call.c.by, schema.remark.c.by, schema.waiver.c.by, schema.waiver.c.undone_by)
        for by in connection.execute(select(column).distinct()).scalars()
    ]
    return any(redactor.matches(by) for by in requesters if by not in seats)


def _recordings_of_person(connection: Connection, redactor: Redactor) -> set[str]:
    """Return the names of recordings of sessions in which the person sat or is named."""
    row = schema.seating.c
    sessions = set(
        connection.execute(
            select(row.session).where(row.person.in_(_person_ids(connection, redactor)))
        ).scalars()
    )
    for table, names in vacuum.TEXT_COLUMNS[1:]:
        for name in names:
            rows = connection.execute(
                select(table.c.session, table.c[name]).where(table.c[name] != "").distinct()
            )
            sessions |= {session for session, value in rows if redactor.occurs_in(value)}
    stems = connection.execute(select(schema.session.c.id, schema.session.c.recording))
    return {stem for session, stem in stems if session in sessions}


def _scan_recordings(
    stored: list[RecordingFiles], redactor: Redactor, progress: Progress
) -> list[tuple[RecordingFiles, RecordingScan]]:
    """Scan every recording for the pseudonym.

    Raises:
        InputFaults: A recording cannot be read.
    """
    scans = []
    for recording in stored:
        try:
            scans.append((recording, redact_recordings.scan_recording(recording, redactor)))
        except OSError as error:
            raise _unwritable_fault(recording, error) from None
        progress(1, len(stored))
    return scans


def _redact_files(
    data_dir: DataDir,
    scans: list[tuple[RecordingFiles, RecordingScan]],
    redactor: Redactor,
    stems_of_person: set[str],
    report: ErasureReport,
) -> None:
    """Redact recordings, and records that the store rejected.

    Raises:
        InputFaults: A file cannot be written.
    """
    redact_recordings.remove_stale_copies(data_dir.recordings)
    for recording, scan in scans:
        try:
            result = redact_recordings.redact_recording(
                recording, scan, redactor, of_person=recording.stem in stems_of_person
            )
        except OSError as error:
            raise _unwritable_fault(recording, error) from None
        match result:
            case RedactionResult.REDACTED:
                report.redacted.append(recording.stem)
            case RedactionResult.REMOVED:
                report.removed.append(recording.stem)
            case RedactionResult.UNCHANGED if scan.truncated_parts:
                report.unreadable.append(recording.stem)
    for refused in data_dir.spool.glob(f"*{REFUSED_SUFFIX}"):
        _redact_refused_lines(refused, redactor)


def _unwritable_fault(recording: RecordingFiles, error: OSError) -> InputFaults:
    reason = f"this recording cannot be read or rewritten ({error.strerror or error})"
    return InputFaults([Fault(Place(recording.stem), reason, hint="solve this, then try again")])


def _redact_refused_lines(path: Path, redactor: Redactor) -> None:
    """Remove rejected records that may contain the pseudonym; no program reads them."""
    lines = path.read_bytes().splitlines(keepends=True)
    remaining = [line for line in lines if decode_line(line) is not None and not redactor.may_occur_in(line)]
    if len(remaining) < len(lines):
        copy = path.with_suffix(redact_recordings.COPY_SUFFIX)
        copy.write_bytes(b"".join(remaining))
        copy.replace(path)
    if not remaining:
        path.unlink(missing_ok=True)


def _resume_or_fail(engine: Engine, name: str) -> ErasureReport:
    """Finish an interrupted run if there was one; the pseudonym is unknown.

    Raises:
        InputFaults: Nothing is left to do.
    """
    with read_transaction(engine) as connection:
        interrupted = vacuum.is_pending(connection)
        known = connection.execute(select(schema.person.c.pseudonym)).scalars().all()
    if interrupted:
        return ErasureReport(problem=vacuum.run_vacuum(engine))
    expected = "one of `holdshort person list`"
    raise InputFaults([unknown_fault(Place("pseudonym"), "pseudonym", name, known, expected)])


def _erase_from_tables(connection: Connection, redactor: Redactor, report: ErasureReport) -> None:
    """Erase the person from the tables, in one transaction."""
    persons = _person_ids(connection, redactor)
    seats, found, row = schema.seating.c, schema.finding.c, schema.session.c
    sat = select(seats.session).where(seats.person.in_(persons)).distinct()
    report.sessions = len(connection.execute(sat).all())
    count = select(func.count()).select_from(schema.finding).where(found.person.in_(persons))
    report.findings = int(connection.execute(count).scalar_one())
    unclosed = select(row.id).where(row.ending == "", row.id.in_(sat))
    report.open_sessions = list(connection.execute(unclosed).scalars())
    report.texts = sum(
        _redact_column(connection, table, name, redactor)
        for table, names in vacuum.TEXT_COLUMNS
        for name in names
    )
    connection.execute(delete(schema.person).where(schema.person.c.id.in_(persons)))
    vacuum.mark_pending(connection)


def _redact_column(connection: Connection, table: Table, name: str, redactor: Redactor) -> int:
    """Overwrite the pseudonym in a column, as it is stored."""
    column, changed = type_coerce(table.c[name], Text), 0
    for value in connection.execute(select(column).where(column != "").distinct()).scalars().all():
        if (after := redactor.redact(value)) != value:
            changed += connection.execute(update(table).where(column == value).values({name: after})).rowcount
    return changed
