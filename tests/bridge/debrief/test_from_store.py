"""A session from the store, beside the same from its recording; and which session is meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.debrief.from_recording import debrief_from_recording
from bridge.debrief.from_store import RECORDING_DELETED, debrief_from_store
from bridge.debrief.report.document import render_html
from bridge.debrief.session_lookup import SessionRef, find_session, known_sessions
from bridge.recording.reader import open_recording
from bridge.recording.retention import list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store.database import open_store, read_transaction
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.privacy.two_sessions import record_two_sessions


@pytest.fixture
def keep(pack: Pack, tmp_path: Path, address: str) -> DataDir:
    """Two sessions, recorded and stored."""
    made = DataDir(tmp_path / "keep")
    record_two_sessions(pack, made, address)
    return made


def test_the_store_says_what_the_recording_says(keep: DataDir, address: str, pack: Pack) -> None:
    """Findings, gates, calls, notices, phases and crew are the same from either; what the store has not is said."""
    engine = open_store(address)
    for kept in list_recordings(keep.recordings):
        recording = open_recording(kept.parts[0])
        taped = debrief_from_recording(recording, pack)
        with read_transaction(engine) as connection:
            stored = debrief_from_store(connection, recording.head.session, pack)
        assert [c.finding for c in stored.findings] == [c.finding for c in taped.findings]
        assert [(c.error_class, c.managed, c.person, c.gate) for c in stored.findings] == [
            (c.error_class, c.managed, c.person, c.gate) for c in taped.findings
        ]
        assert [g.passage for g in stored.gates] == [g.passage for g in taped.gates]
        assert [c.call for c in stored.calls] == [c.call for c in taped.calls]
        assert [n.notice for n in stored.notices] == [n.notice for n in taped.notices]
        assert [(s.id, s.from_s) for s in stored.phases] == [(s.id, s.from_s) for s in taped.phases]
        assert (stored.crew, stored.name, stored.remarks) == (taped.crew, taped.name, taped.remarks)
        assert stored.faults == (RECORDING_DELETED,)
        assert RECORDING_DELETED in render_html(stored).replace("&#39;", "'")
    engine.dispose()


@pytest.mark.usefixtures("keep")
def test_without_its_pack_a_session_is_told_in_ids(address: str) -> None:
    """Where the pack is not here, the session is told all the same."""
    engine = open_store(address)
    with read_transaction(engine) as connection:
        chosen = known_sessions(None, connection)[0]
        account = debrief_from_store(connection, chosen.uuid, None)
    engine.dispose()
    assert account.findings
    assert {case.gate for case in account.findings} <= {"", "push"}


def _choose(word: str, keep: DataDir | None, address: str) -> SessionRef:
    engine = open_store(address)
    try:
        with read_transaction(engine) as connection:
            return find_session(word, keep, connection)
    finally:
        engine.dispose()


def test_which_session_is_meant(keep: DataDir, address: str) -> None:
    """The last, one by the beginning of its id, by its name, by its recording."""
    last = _choose("last", keep, address)
    assert (last.name, last.stored) == ("Second of heron", True)
    assert last.recording is not None
    assert _choose(last.uuid[:6], keep, address) == last
    assert _choose("Second of heron", keep, address) == last
    assert _choose(str(last.recording), None, address).uuid == last.uuid


def test_a_session_whose_recording_is_gone(keep: DataDir, address: str) -> None:
    """Without its recording a session is still known by the store."""
    for kept in list_recordings(keep.recordings):
        kept.parts[0].unlink()
    last = _choose("last", keep, address)
    assert (last.recording, last.stored) == (None, True)


def test_none_is_meant(keep: DataDir, address: str) -> None:
    """A word that means none is answered with those that there are, and a hint."""
    with pytest.raises(InputFaults, match="no session is called Sesion 1") as caught:
        _choose("Sesion 1", keep, address)
    assert "did you mean Session 1" in str(caught.value)
    assert "Second of heron, 25 November 2026, 04:00 UTC" in str(caught.value)


def test_several_are_meant(pack: Pack, keep: DataDir, address: str) -> None:
    """A name that several sessions have is answered with their ids."""
    record_two_sessions(pack, keep, address)
    with pytest.raises(InputFaults, match="2 sessions are called Session 1"):
        _choose("Session 1", keep, address)


def test_nothing_was_kept(tmp_path: Path) -> None:
    """Where nothing was kept, that is said."""
    with pytest.raises(InputFaults, match="expected a recording, or a session that was kept"):
        find_session("last", None, None)
    assert known_sessions(DataDir(tmp_path), None) == []
