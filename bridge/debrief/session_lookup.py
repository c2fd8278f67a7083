"""Which session is meant: by its recording, the beginning of its id, its name, or `last`.

Takes: a word, the folder in which things are kept, the store.  Gives: `Chosen`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from bridge.debrief.wording import long_date
from bridge.recording.reader import open_recording
from bridge.recording.retention import list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean

LAST = "last"
_MIN_ID_LENGTH = 4
_MAX_LISTED = 12


@dataclass(frozen=True, slots=True)
class SessionRef:
    """One session; `recording` is its first part, None where it is gone; `stored` says whether it is in the store."""

    uuid: str
    name: str
    pack: str
    began_utc: float
    recording: Path | None = None
    stored: bool = False


def find_session(text: str, data_dir: DataDir | None, connection: Connection | None) -> SessionRef:
    """The session that is meant.

    Args:
        text: a path, the beginning of an id, a name, or `last`.
        data_dir: the folder in which things are kept, if any.
        connection: to the store, if there is one.

    Raises:
        InputFaults: none is meant, or several.
    """
    path = Path(text).expanduser()
    if path.suffix == ".mcap" or path.is_file():
        head = open_recording(path).head
        return SessionRef(head.session, head.name, head.pack.id, head.began_utc, path)
    known = known_sessions(data_dir, connection)
    if text == LAST and known:
        return known[-1]
    meant = [
        one
        for one in known
        if one.name == text or (len(text) >= _MIN_ID_LENGTH and one.uuid.startswith(text.lower()))
    ]
    if len(meant) == 1:
        return meant[0]
    what = f"{len(meant)} sessions are called {text}" if meant else f"no session is called {text}"
    among = meant or known
    hint = did_you_mean(text, [one.name for one in known]) if not meant else ""
    raise InputFaults([Fault(Place("SESSION"), what, _expected(among), hint or _hint(data_dir))])


def known_sessions(data_dir: DataDir | None, connection: Connection | None) -> list[SessionRef]:
    """Every session that was kept, the newest last."""
    found = {one.uuid: one for one in _stored_sessions(connection)}
    for one in _recorded_sessions(data_dir):
        known = found.get(one.uuid)
        name = known.name if known is not None else one.name
        found[one.uuid] = SessionRef(
            one.uuid, name, one.pack, one.began_utc, one.recording, known is not None
        )
    return sorted(found.values(), key=lambda one: one.began_utc)


def _recorded_sessions(data_dir: DataDir | None) -> Iterator[SessionRef]:
    for kept in list_recordings(data_dir.recordings) if data_dir is not None else ():
        with suppress(InputFaults):  # nothing was recorded in it
            head = open_recording(kept.parts[0]).head
            yield SessionRef(head.session, head.name, head.pack.id, head.began_utc, kept.parts[0])


def _stored_sessions(connection: Connection | None) -> Iterator[SessionRef]:
    if connection is not None:
        columns = schema.session.c
        for row in connection.execute(select(columns.id, columns.name, columns.pack, columns.began_utc)):
            yield SessionRef(row.id, row.name, row.pack, row.began_utc, stored=True)


def _expected(among: Sequence[SessionRef]) -> str:
    if not among:
        return "a recording, or a session that was kept"
    listed = [f"{one.uuid[:8]} ({one.name}, {long_date(one.began_utc)})" for one in among[::-1][:_MAX_LISTED]]
    more = f" or one of {len(among) - _MAX_LISTED} older ones" if len(among) > _MAX_LISTED else ""
    return f"{LAST}, or one of " + "; ".join(listed) + more


def _hint(data_dir: DataDir | None) -> str:
    return "" if data_dir is not None else "name the folder in which sessions are kept with --data-dir"
