"""Finds a session by its recording, the beginning of its id, its name, or `last`.

Takes: a text, the data folder, the store.  Gives: `SessionRef`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from bridge.common.time_text import long_date
from bridge.recording.reader import open_recording
from bridge.recording.recording_budget import list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean

LAST = "last"
_MIN_ID_LENGTH = 4
_MAX_LISTED = 12


@dataclass(frozen=True, slots=True)
class SessionRef:
    """One session; `recording` is its first part, None if it is gone; `stored` is true if the session is in the store."""

    uuid: str
    name: str
    pack: str
    began_utc: float
    recording: Path | None = None
    stored: bool = False


def find_session(text: str, data_dir: DataDir | None, connection: Connection | None) -> SessionRef:
    """Find the one session that matches a text.

    Args:
        text: a path, the beginning of an id (4 characters or more), a name, or `last`.
        data_dir: the data folder, if any.
        connection: to the store, if there is one.

    Raises:
        InputFaults: no session matches, or several.
    """
    path = Path(text).expanduser()
    if path.suffix == ".mcap" or path.is_file():
        head = open_recording(path).head
        return SessionRef(head.session, head.name, head.pack.id, head.began_utc, path)
    known = known_sessions(data_dir, connection)
    if text == LAST and known:
        return known[-1]
    matching = [
        one
        for one in known
        if one.name == text or (len(text) >= _MIN_ID_LENGTH and one.uuid.startswith(text.lower()))
    ]
    if len(matching) == 1:
        return matching[0]
    if not known:
        hint = _hint(data_dir) or "holdshort watch stores each session"
        raise InputFaults([Fault(Place("SESSION"), "no session is stored yet", hint=hint)])
    what = f"{len(matching)} sessions are called {text}" if matching else f"no session is called {text}"
    hint = did_you_mean(text, [one.name for one in known]) if not matching else ""
    raise InputFaults([Fault(Place("SESSION"), what, _expected(matching or known), hint or _hint(data_dir))])


def known_sessions(data_dir: DataDir | None, connection: Connection | None) -> list[SessionRef]:
    """Every session that is recorded or stored, the newest last."""
    sessions = {one.uuid: one for one in _stored_sessions(connection)}
    for one in _recorded_sessions(data_dir):
        in_store = sessions.get(one.uuid)
        name = in_store.name if in_store is not None else one.name
        sessions[one.uuid] = SessionRef(
            one.uuid, name, one.pack, one.began_utc, one.recording, in_store is not None
        )
    return sorted(sessions.values(), key=lambda one: one.began_utc)


def _recorded_sessions(data_dir: DataDir | None) -> Iterator[SessionRef]:
    for recording in list_recordings(data_dir.recordings) if data_dir is not None else ():
        with suppress(InputFaults):  # a file without a head contains no session
            head = open_recording(recording.parts[0]).head
            yield SessionRef(head.session, head.name, head.pack.id, head.began_utc, recording.parts[0])


def _stored_sessions(connection: Connection | None) -> Iterator[SessionRef]:
    if connection is not None:
        columns = schema.session.c
        for row in connection.execute(select(columns.id, columns.name, columns.pack, columns.began_utc)):
            yield SessionRef(row.id, row.name, row.pack, row.began_utc, stored=True)


def _expected(sessions: Sequence[SessionRef]) -> str:
    newest = sessions[::-1][:_MAX_LISTED]
    listed = [f"{one.uuid[:8]} ({one.name}, {long_date(one.began_utc)})" for one in newest]
    more = f" or one of {len(sessions) - _MAX_LISTED} older ones" if len(sessions) > _MAX_LISTED else ""
    return f"{LAST}, or one of " + "; ".join(listed) + more


def _hint(data_dir: DataDir | None) -> str:
    return "" if data_dir is not None else "name the data folder with --data-dir"
