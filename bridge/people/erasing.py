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

from bridge.keep import Keep
from bridge.people import forgetting, tapes
from bridge.people.names import Blot, pseudonym_from
from bridge.people.tapes import Done, Look
from bridge.record.shelf import TOUCHED_S, Kept, recordings
from bridge.store import schema
from bridge.store.drain import ASIDE, Drain
from bridge.store.opening import reading, writing
from bridge.store.spool import spools, unpacked
from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean

WORDS: tuple[tuple[Table, tuple[str, ...]], ...] = (
    (schema.session, ("name", "course", "papers_title")),
    (schema.call, ("by",)),
    (schema.remark, ("text", "by")),
)
"""Where people's words stand in the store."""
UNREACHED = (
    "Not reached: debriefs, exports and logs that were written, and programs that were told; recordings in other folders; "
    "copies and backups; a PostgreSQL server's log of changes; what a disk keeps of files that were removed."
)
Progress = Callable[[int, int], None]


@dataclass(slots=True)
class Erased:
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
    rewritten: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    trouble: str = ""


def erase(
    pseudonym: str, engine: Engine, keep: Keep, url: str, progress: Progress = lambda *_: None
) -> Erased:
    """Erase a person; again where that was cut off.

    Args:
        pseudonym: who.
        engine: the store, open.
        keep: the folder in which things are kept.
        url: the store's address, so that what waits for it can be put in first.
        progress: hears how many recordings more were looked through, and of how many.

    Raises:
        InputFaults: a watch runs, a recording cannot be read or written, or nobody of that pseudonym is known; nothing of the
            store was changed then.
    """
    name = pseudonym_from(pseudonym)
    held = recordings(
        keep.recordings
    )  # before the spools, so that each one that is written now has its spool
    _drained(name, keep, url)
    with reading(engine) as connection:
        blot = blot_for(connection, name)
        theirs = _theirs(connection, blot)
        _still(connection, name, held)
        known = bool(_persons(connection, blot)) or _asks(connection, blot)
    looks = _look(held, blot, progress)
    if not known and not any(look.bears for _, look in looks):
        return _unknown(engine, name)
    erased = Erased()
    _clean(keep, looks, blot, theirs, erased)
    with writing(engine) as connection:
        _store(connection, blot, erased)
    erased.trouble = forgetting.forget(engine)
    return erased


def blot_for(connection: Connection, name: str) -> Blot:
    """Overwrites a pseudonym, but not where it is part of another person's."""
    return Blot(name, spared=connection.execute(select(schema.person.c.pseudonym)).scalars().all())


def _drained(name: str, keep: Keep, url: str) -> None:
    """Put what waits into the store.

    Raises:
        InputFaults: a watch holds some of it, or the store does not take it.
    """
    drain = Drain(keep.spool, url)
    drain.finish()
    if drain.trouble:
        what = f"what waits for the store cannot be put in ({drain.trouble})"
        raise InputFaults([Fault(Place(name), what, hint="try again when the store can be reached")])
    if spools(keep.spool):
        what = "a watch is running: what it holds cannot be erased"
        raise InputFaults([Fault(Place(name), what, hint="end the watch and try again")])


def _still(connection: Connection, name: str, held: Iterable[Kept]) -> None:
    """See that no recording is written now.

    Raises:
        InputFaults: one is, as far as one can see: it was just touched, and its session has not ended in the store.
    """
    row = schema.session.c
    over = set(connection.execute(select(row.recording).where(row.ending != "")).scalars())
    for kept in held:
        if kept.stem not in over and abs(time.time() - kept.touched_utc) < TOUCHED_S:
            what = f"the recording {kept.stem} is being written now"
            hint = f"end the watch, and try again after {TOUCHED_S:.0f} s"
            raise InputFaults([Fault(Place(name), what, hint=hint)])


def _persons(connection: Connection, blot: Blot) -> list[int]:
    """The rows of the person, however the pseudonym was written."""
    rows = connection.execute(select(schema.person.c.id, schema.person.c.pseudonym))
    return [row.id for row in rows if blot.is_name(row.pseudonym)]


def _asks(connection: Connection, blot: Blot) -> bool:
    """Whether somebody who asked something is called so, and no seat is."""
    seats = {seat for held in connection.execute(select(schema.session.c.seats)).scalars() for seat in held}
    said = [
        by
        for table in (schema.call, schema.remark)
        for by in connection.execute(select(table.c.by).distinct()).scalars()
    ]
    return any(blot.is_name(by) for by in said if by not in seats)


def _theirs(connection: Connection, blot: Blot) -> set[str]:
    """The names of recordings of sessions in which the person sat, or is named."""
    row = schema.seating.c
    sessions = set(
        connection.execute(select(row.session).where(row.person.in_(_persons(connection, blot)))).scalars()
    )
    for table, names in WORDS[1:]:
        for name in names:
            rows = connection.execute(
                select(table.c.session, table.c[name]).where(table.c[name] != "").distinct()
            )
            sessions |= {session for session, value in rows if blot.stands_in(value)}
    stems = connection.execute(select(schema.session.c.id, schema.session.c.recording))
    return {stem for session, stem in stems if session in sessions}


def _look(held: list[Kept], blot: Blot, progress: Progress) -> list[tuple[Kept, Look]]:
    """Read every recording through.

    Raises:
        InputFaults: one cannot be read.
    """
    looks = []
    for kept in held:
        try:
            looks.append((kept, tapes.look_at(kept, blot)))
        except OSError as error:
            raise _untouched(kept, error) from None
        progress(1, len(held))
    return looks


def _clean(keep: Keep, looks: list[tuple[Kept, Look]], blot: Blot, theirs: set[str], erased: Erased) -> None:
    """Rewrite recordings, and lines that the store refused.

    Raises:
        InputFaults: a file cannot be written.
    """
    tapes.sweep_copies(keep.recordings)
    for kept, look in looks:
        try:
            done = tapes.clean(kept, look, blot, concerned=kept.stem in theirs)
        except OSError as error:
            raise _untouched(kept, error) from None
        match done:
            case Done.REWRITTEN:
                erased.rewritten.append(kept.stem)
            case Done.REMOVED:
                erased.removed.append(kept.stem)
            case Done.STAYS if look.cut:
                erased.unread.append(kept.stem)
    for refused in keep.spool.glob(f"*{ASIDE}"):
        _refused(refused, blot)


def _untouched(kept: Kept, error: OSError) -> InputFaults:
    what = f"this recording cannot be read and written anew ({error.strerror or error})"
    return InputFaults([Fault(Place(kept.stem), what, hint="what is wrong there, then try again")])


def _refused(path: Path, blot: Blot) -> None:
    """Leave lines out that the store refused, and in which the pseudonym may stand; no program reads them."""
    lines = path.read_bytes().splitlines(keepends=True)
    left = [line for line in lines if unpacked(line) is not None and not blot.may_stand_in(line)]
    if len(left) < len(lines):
        fresh = path.with_suffix(tapes.COPY)
        fresh.write_bytes(b"".join(left))
        fresh.replace(path)
    if not left:
        path.unlink(missing_ok=True)


def _unknown(engine: Engine, name: str) -> Erased:
    """Nobody is called so; what an earlier run left to do is done.

    Raises:
        InputFaults: nothing was left to do.
    """
    with reading(engine) as connection:
        cut_off = forgetting.marked(connection)
        known = connection.execute(select(schema.person.c.pseudonym)).scalars().all()
    if cut_off:
        return Erased(trouble=forgetting.forget(engine))
    hint = did_you_mean(name, list(known))
    expected = "one of `holdshort person list`"
    raise InputFaults([Fault(Place(name), "nobody of that pseudonym is known", expected, hint)])


def _store(connection: Connection, blot: Blot, erased: Erased) -> None:
    """Erase the person from the tables, in one transaction."""
    persons = _persons(connection, blot)
    seats, found, row = schema.seating.c, schema.finding.c, schema.session.c
    sat = select(seats.session).where(seats.person.in_(persons)).distinct()
    erased.sessions = len(connection.execute(sat).all())
    count = select(func.count()).select_from(schema.finding).where(found.person.in_(persons))
    erased.findings = int(connection.execute(count).scalar_one())
    open_still = select(row.id).where(row.ending == "", row.id.in_(sat))
    erased.open = list(connection.execute(open_still).scalars())
    erased.texts = sum(_overwrite(connection, table, name, blot) for table, names in WORDS for name in names)
    connection.execute(delete(schema.person).where(schema.person.c.id.in_(persons)))
    forgetting.mark(connection)


def _overwrite(connection: Connection, table: Table, name: str, blot: Blot) -> int:
    """Overwrite the pseudonym in a column."""
    column, changed = table.c[name], 0
    for value in connection.execute(select(column).where(column != "").distinct()).scalars().all():
        if (after := blot.text(value)) != value:
            changed += connection.execute(update(table).where(column == value).values({name: after})).rowcount
    return changed
