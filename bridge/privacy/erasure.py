"""Erases one person: from the store, from what waits for it, and from recordings.

What was found stays, without the person, since it says what crews miss.  The person's row goes last, so that a run that was cut off
can be run again.  What this cannot reach is said by `UNREACHED`.

Takes: a pseudonym, a store, the folder in which things are kept.  Gives: `Erased`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Connection, Engine, Table, delete, func, select, update

from bridge.privacy import redact_recordings, vacuum
from bridge.privacy.pseudonyms import Redactor, parse_pseudonym
from bridge.privacy.redact_recordings import RecordingScan, RedactionResult
from bridge.recording.retention import ACTIVE_WITHIN_S, RecordingFiles, list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import read_transaction, write_transaction
from bridge.store.spool import decode_line, spool_paths
from bridge.store.store_writer import REFUSED_SUFFIX, StoreWriter
from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean

TEXT_COLUMNS: tuple[tuple[Table, tuple[str, ...]], ...] = (
    (schema.session, ("name", "course", "trip_title")),
    (schema.call, ("by",)),
    (schema.remark, ("text", "by")),
)
"""Where people's words stand in the store."""
NOT_REACHED = (
    "Not reached: debriefs, exports and logs that were written, and programs that were told; recordings in other folders; "
    "copies and backups; a PostgreSQL server's log of changes; what a disk keeps of files that were removed."
)
Progress = Callable[[int, int], None]


@dataclass(slots=True)
class ErasureReport:
    """What was done.

    Attributes:
        sessions: In how many the person sat.
        findings: How many were theirs.
        texts: How many texts of the store were overwritten.
        rewritten: Recordings without the pseudonym now.
        removed: Recordings that are gone, since they could not be rewritten.
        unread: Recordings that cannot be read, of which nothing says that they are theirs; they stay.
        open: Sessions of theirs that have not ended in the store: a watch elsewhere may still bring the pseudonym.
        trouble: Why the database still holds what was removed; '' where it does not.
    """

    sessions: int = 0
    findings: int = 0
    texts: int = 0
    redacted: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    unreadable: list[str] = field(default_factory=list)
    open_sessions: list[str] = field(default_factory=list)
    trouble: str = ""


def erase(
    pseudonym: str, engine: Engine, data_dir: DataDir, store_url: str, progress: Progress = lambda *_: None
) -> ErasureReport:
    """Erase a person; again where that was cut off.

    Args:
        pseudonym: who.
        engine: the store, open.
        data_dir: the folder in which things are kept.
        store_url: the store's address, so that what waits for it can be put in first.
        progress: hears how many recordings more were looked through, and of how many.

    Raises:
        InputFaults: a watch runs, a recording cannot be read or written, or nobody of that pseudonym is known; nothing of the
            store was changed then.
    """
    name = parse_pseudonym(pseudonym)
    held = list_recordings(
        data_dir.recordings
    )  # before the spools, so that each one that is written now has its spool
    _drain_spools(name, data_dir, store_url)
    with read_transaction(engine) as connection:
        blot = redactor_for(connection, name)
        theirs = _recordings_of_person(connection, blot)
        _check_not_recording(connection, name, held)
        known = bool(_person_ids(connection, blot)) or _is_requester(connection, blot)
    looks = _scan_recordings(held, blot, progress)
    if not known and not any(look.names_person for _, look in looks):
        return _resume_or_fail(engine, name)
    erased = ErasureReport()
    _redact_files(data_dir, looks, blot, theirs, erased)
    with write_transaction(engine) as connection:
        _erase_from_tables(connection, blot, erased)
    erased.trouble = vacuum.run_vacuum(engine)
    return erased


def redactor_for(connection: Connection, name: str) -> Redactor:
    """Overwrites a pseudonym, but not where it is part of another person's."""
    return Redactor(name, excluded=connection.execute(select(schema.person.c.pseudonym)).scalars().all())


def _drain_spools(name: str, data_dir: DataDir, store_url: str) -> None:
    """Put what waits into the store.

    Raises:
        InputFaults: a watch holds some of it, or the store does not take it.
    """
    drain = StoreWriter(data_dir.spool, store_url)
    drain.finish()
    if drain.trouble:
        what = f"what waits for the store cannot be put in ({drain.trouble})"
        raise InputFaults([Fault(Place(name), what, hint="try again when the store can be reached")])
    if spool_paths(data_dir.spool):
        what = "a watch is running: what it holds cannot be erased"
        raise InputFaults([Fault(Place(name), what, hint="end the watch and try again")])


def _check_not_recording(connection: Connection, name: str, stored: Iterable[RecordingFiles]) -> None:
    """See that no recording is written now.

    Raises:
        InputFaults: one is, as far as one can see: it was just touched, and its session has not ended in the store.
    """
    row = schema.session.c
    over = set(connection.execute(select(row.recording).where(row.ending != "")).scalars())
    for kept in stored:
        if kept.stem not in over and abs(time.time() - kept.modified_utc) < ACTIVE_WITHIN_S:
            what = f"the recording {kept.stem} is being written now"
            hint = f"end the watch, and try again after {ACTIVE_WITHIN_S:.0f} s"
            raise InputFaults([Fault(Place(name), what, hint=hint)])


def _person_ids(connection: Connection, redactor: Redactor) -> list[int]:
    """The rows of the person, however the pseudonym was written."""
    rows = connection.execute(select(schema.person.c.id, schema.person.c.pseudonym))
    return [row.id for row in rows if redactor.matches(row.pseudonym)]


def _is_requester(connection: Connection, redactor: Redactor) -> bool:
    """Whether somebody who asked something is called so, and no seat is."""
    seats = {seat for held in connection.execute(select(schema.session.c.seats)).scalars() for seat in held}
    said = [
        by
        for table in (schema.call, schema.remark)
        for by in connection.execute(select(table.c.by).distinct()).scalars()
    ]
    return any(redactor.matches(by) for by in said if by not in seats)


def _recordings_of_person(connection: Connection, redactor: Redactor) -> set[str]:
    """The names of recordings of sessions in which the person sat, or is named."""
    row = schema.seating.c
    sessions = set(
        connection.execute(
            select(row.session).where(row.person.in_(_person_ids(connection, redactor)))
        ).scalars()
    )
    for table, names in TEXT_COLUMNS[1:]:
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
    """Read every recording through.

    Raises:
        InputFaults: one cannot be read.
    """
    looks = []
    for kept in stored:
        try:
            looks.append((kept, redact_recordings.scan_recording(kept, redactor)))
        except OSError as error:
            raise _unwritable_fault(kept, error) from None
        progress(1, len(stored))
    return looks


def _redact_files(
    data_dir: DataDir,
    scans: list[tuple[RecordingFiles, RecordingScan]],
    redactor: Redactor,
    stems_of_person: set[str],
    report: ErasureReport,
) -> None:
    """Rewrite recordings, and lines that the store refused.

    Raises:
        InputFaults: a file cannot be written.
    """
    redact_recordings.remove_stale_copies(data_dir.recordings)
    for kept, look in scans:
        try:
            done = redact_recordings.redact_recording(
                kept, look, redactor, of_person=kept.stem in stems_of_person
            )
        except OSError as error:
            raise _unwritable_fault(kept, error) from None
        match done:
            case RedactionResult.REDACTED:
                report.redacted.append(kept.stem)
            case RedactionResult.REMOVED:
                report.removed.append(kept.stem)
            case RedactionResult.UNCHANGED if look.truncated_parts:
                report.unreadable.append(kept.stem)
    for refused in data_dir.spool.glob(f"*{REFUSED_SUFFIX}"):
        _redact_refused_lines(refused, redactor)


def _unwritable_fault(recording: RecordingFiles, error: OSError) -> InputFaults:
    what = f"this recording cannot be read and written anew ({error.strerror or error})"
    return InputFaults([Fault(Place(recording.stem), what, hint="what is wrong there, then try again")])


def _redact_refused_lines(path: Path, redactor: Redactor) -> None:
    """Leave lines out that the store refused, and in which the pseudonym may stand; no program reads them."""
    lines = path.read_bytes().splitlines(keepends=True)
    left = [line for line in lines if decode_line(line) is not None and not redactor.may_occur_in(line)]
    if len(left) < len(lines):
        fresh = path.with_suffix(redact_recordings.COPY_SUFFIX)
        fresh.write_bytes(b"".join(left))
        fresh.replace(path)
    if not left:
        path.unlink(missing_ok=True)


def _resume_or_fail(engine: Engine, name: str) -> ErasureReport:
    """Nobody is called so; what an earlier run left to do is done.

    Raises:
        InputFaults: nothing was left to do.
    """
    with read_transaction(engine) as connection:
        cut_off = vacuum.is_pending(connection)
        known = connection.execute(select(schema.person.c.pseudonym)).scalars().all()
    if cut_off:
        return ErasureReport(trouble=vacuum.run_vacuum(engine))
    hint = did_you_mean(name, list(known))
    expected = "one of `holdshort person list`"
    raise InputFaults([Fault(Place(name), "nobody of that pseudonym is known", expected, hint)])


def _erase_from_tables(connection: Connection, redactor: Redactor, report: ErasureReport) -> None:
    """Erase the person from the tables, in one transaction."""
    persons = _person_ids(connection, redactor)
    seats, found, row = schema.seating.c, schema.finding.c, schema.session.c
    sat = select(seats.session).where(seats.person.in_(persons)).distinct()
    report.sessions = len(connection.execute(sat).all())
    count = select(func.count()).select_from(schema.finding).where(found.person.in_(persons))
    report.findings = int(connection.execute(count).scalar_one())
    open_still = select(row.id).where(row.ending == "", row.id.in_(sat))
    report.open_sessions = list(connection.execute(open_still).scalars())
    report.texts = sum(
        _redact_column(connection, table, name, redactor) for table, names in TEXT_COLUMNS for name in names
    )
    connection.execute(delete(schema.person).where(schema.person.c.id.in_(persons)))
    vacuum.mark_pending(connection)


def _redact_column(connection: Connection, table: Table, name: str, redactor: Redactor) -> int:
    """Overwrite the pseudonym in a column."""
    column, changed = table.c[name], 0
    for value in connection.execute(select(column).where(column != "").distinct()).scalars().all():
        if (after := redactor.redact(value)) != value:
            changed += connection.execute(update(table).where(column == value).values({name: after})).rowcount
    return changed
