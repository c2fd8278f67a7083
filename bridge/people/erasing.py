"""Erases one person: from the store, from what waits for it, and from recordings.

What was found stays, without the person, since it says what crews miss.  The person's row goes last, so that a run that was cut off
can be run again.  What this cannot reach: debriefs and exports that were handed out, copies and backups, a database server's own log.

Takes: a pseudonym, a store, the folder in which things are kept.  Gives: `Erased`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Column, Connection, Engine, Table, delete, func, select, text, update

from bridge.keep import Keep
from bridge.people.names import Blot
from bridge.people.tapes import named_in, rewrite
from bridge.record.shelf import Kept, recordings
from bridge.store import schema
from bridge.store.drain import ASIDE, Drain
from bridge.store.opening import writing
from bridge.store.spool import spools
from rules.faults import Fault, InputFaults, Place

WORDS: tuple[tuple[Table, tuple[str, ...]], ...] = (
    (schema.session, ("name", "course")),
    (schema.call, ("by",)),
    (schema.remark, ("text", "by")),
)
"""Where people's words stand in the store."""
UNREACHED = "not reached: debriefs and exports that were handed out, copies and backups, and what a database server keeps of its past"


@dataclass(frozen=True, slots=True)
class Erased:
    """What was done: sessions the person sat in, findings that were theirs, texts overwritten, recordings rewritten."""

    sessions: int
    findings: int
    texts: int
    recordings: tuple[str, ...]


def watched_now(keep: Keep | None) -> bool:
    """Whether a watch holds something that is not in the store yet."""
    return keep is not None and bool(spools(keep.spool))


def erase(
    pseudonym: str,
    engine: Engine,
    keep: Keep | None,
    url: str,
    progress: Callable[[int, int], None] = lambda *_: None,
) -> Erased:
    """Erase a person.

    Args:
        pseudonym: who.
        engine: the store, open.
        keep: the folder in which things are kept, if any.
        url: the store's address, so that what waits for it can be put in first.
        progress: hears how many recordings more were looked through, and of how many.

    Raises:
        InputFaults: a watch runs, or nobody of that pseudonym is known.
    """
    blot = Blot(pseudonym)
    if keep is not None:
        Drain(keep.spool, url).finish()
    if watched_now(keep):
        what = "a watch is running, or the store cannot be reached: what it holds cannot be erased"
        raise InputFaults([Fault(Place(pseudonym), what, hint="end the watch and try again")])
    rewritten = _recordings(keep, blot, progress)
    with writing(engine) as connection:
        person = connection.execute(
            select(schema.person.c.id).where(schema.person.c.pseudonym == pseudonym)
        ).scalar()
        if person is None and not rewritten:
            raise InputFaults(
                [Fault(Place(pseudonym), "nobody of that pseudonym is known", "one of `person list`")]
            )
        sessions, findings = _counted(connection, person)
        texts = sum(_overwrite(connection, table, name, blot) for table, names in WORDS for name in names)
        connection.execute(delete(schema.person).where(schema.person.c.id == person))
    _forget(engine)
    return Erased(sessions, findings, texts, tuple(rewritten))


def _recordings(keep: Keep | None, blot: Blot, progress: Callable[[int, int], None]) -> list[str]:
    """Rewrite every recording in which the pseudonym stands, and remove refused lines, which no one reads any more."""
    if keep is None:
        return []
    for refused in keep.spool.glob(f"*{ASIDE}"):
        refused.unlink(missing_ok=True)
    kept, rewritten = recordings(keep.recordings), list[str]()
    for each in kept:
        if _rewrite(each, blot):
            rewritten.append(each.stem)
        progress(1, len(kept))
    return rewritten


def _rewrite(kept: Kept, blot: Blot) -> bool:
    named: list[Path] = [part for part in kept.parts if named_in(part, blot)]
    for part in named:
        rewrite(part, blot)
    return bool(named)


def _counted(connection: Connection, person: int | None) -> tuple[int, int]:
    """How many sessions and findings are the person's."""
    sat = select(func.count(func.distinct(schema.seating.c.session))).where(schema.seating.c.person == person)
    found = select(func.count()).select_from(schema.finding).where(schema.finding.c.person == person)
    return int(connection.execute(sat).scalar_one()), int(connection.execute(found).scalar_one())


def _overwrite(connection: Connection, table: Table, name: str, blot: Blot) -> int:
    """Overwrite the pseudonym in a column."""
    column: Column[Any] = table.c[name]
    keys = list(table.primary_key.columns)
    rows = connection.execute(select(*keys, column).where(column != "")).all()
    changed = 0
    for *key, value in rows:
        if blot.stands_in(value):
            where = [one == part for one, part in zip(keys, key, strict=True)]
            connection.execute(update(table).where(*where).values({name: blot.text(value)}))
            changed += 1
    return changed


def _forget(engine: Engine) -> None:
    """Let the database give up the space in which it stood; that goes outside any transaction."""
    if engine.dialect.name != "sqlite":
        with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.execute(text("VACUUM"))
        return
    raw = engine.raw_connection()
    try:
        for statement in ("PRAGMA wal_checkpoint(TRUNCATE)", "VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
            raw.cursor().execute(statement)
    finally:
        raw.close()
