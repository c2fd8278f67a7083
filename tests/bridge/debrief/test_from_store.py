"""Tests of a debrief from the store, compared with that from the recording, and of finding a session."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import insert, update

from bridge.debrief.from_recording import debrief_from_recording
from bridge.debrief.from_store import (
    NOT_ENDED,
    NOT_RECORDED,
    RECORDING_NOT_FOUND,
    SESSION_BROKE_OFF,
    debrief_from_store,
)
from bridge.debrief.report.document import render_html
from bridge.debrief.session_lookup import SessionRef, find_session, known_sessions
from bridge.debrief.wording import gaps_sentence
from bridge.recording.reader import open_recording
from bridge.recording.recording_budget import list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import open_store, read_transaction, write_transaction
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.privacy.two_sessions import record_two_sessions


@pytest.fixture
def data_dir(pack: Pack, tmp_path: Path, address: str) -> DataDir:
    """Two sessions, recorded and stored."""
    directory = DataDir(tmp_path / "data_dir")
    record_two_sessions(pack, directory, address)
    return directory


def test_the_store_gives_the_same_debrief_as_the_recording(
    data_dir: DataDir, address: str, pack: Pack
) -> None:
    """Findings, gates, calls, notices, phases and crew are the same from both; missing data is named."""
    engine = open_store(address)
    for recording in list_recordings(data_dir.recordings):
        opened = open_recording(recording.parts[0])
        recorded = debrief_from_recording(opened, pack)
        with read_transaction(engine) as connection:
            stored = debrief_from_store(connection, opened.head.session, pack)
        assert [c.finding for c in stored.findings] == [c.finding for c in recorded.findings]
        assert [(c.error_class, c.managed, c.person, c.gate) for c in stored.findings] == [
            (c.error_class, c.managed, c.person, c.gate) for c in recorded.findings
        ]
        assert [g.passage for g in stored.gates] == [g.passage for g in recorded.gates]
        assert [c.call for c in stored.calls] == [c.call for c in recorded.calls]
        assert [n.notice for n in stored.notices] == [n.notice for n in recorded.notices]
        assert [(s.id, s.from_s) for s in stored.phases] == [(s.id, s.from_s) for s in recorded.phases]
        assert (stored.crew, stored.name, stored.remarks) == (recorded.crew, recorded.name, recorded.remarks)
        assert stored.session_changes == recorded.session_changes
        assert stored.gaps == recorded.gaps
        assert [replace(w, utc=0.0) for w in stored.waivers] == [
            replace(w, utc=0.0) for w in recorded.waivers
        ]
        assert [(w.label, w.gates, w.to_s) for w in stored.waivers] == [
            ("Documents", ("Push back",), 8.0),
            ("Documents", ("Push back",), None),
        ]
        assert "lost again, says Heron" in render_html(stored)
        (gap,) = stored.gaps
        assert (gap.from_s, gap.to_s) == pytest.approx((7.2, 8.0))
        assert gaps_sentence(recorded.gaps) in render_html(stored)
        assert stored.faults == (RECORDING_NOT_FOUND,)
        assert RECORDING_NOT_FOUND in render_html(stored).replace("&#39;", "'")
    engine.dispose()


@pytest.mark.usefixtures("data_dir")
def test_without_its_pack_a_session_has_ids_for_titles(address: str) -> None:
    """A session whose pack is missing has all its findings, with ids."""
    engine = open_store(address)
    with read_transaction(engine) as connection:
        chosen = known_sessions(None, connection)[0]
        debrief = debrief_from_store(connection, chosen.uuid, None)
    engine.dispose()
    assert debrief.findings
    assert {detail.gate for detail in debrief.findings} <= {"", "push"}


@pytest.mark.parametrize(("phase_s", "shown"), [(None, True), (118.0, True), (20.0, False)])
@pytest.mark.usefixtures("data_dir")
def test_a_gap_is_in_a_trace_of_the_same_clock_only(
    address: str, pack: Pack, *, phase_s: float | None, shown: bool
) -> None:
    """A gap whose times a later trace repeats, because the clock jumped back in between, is none of the trace."""
    engine = open_store(address)
    with write_transaction(engine) as connection:
        session = known_sessions(None, connection)[0].uuid
        gap = {"number": 1000, "from_s": 108.0, "to_s": 110.0, "utc": 1.0, "records": 40}
        connection.execute(insert(schema.data_gap).values(session=session, **gap))
        if phase_s is not None:
            phase = {"number": 1001, "sim_s": phase_s, "utc": 2.0, "phase": "stand", "title": "At the stand"}
            connection.execute(insert(schema.phase).values(session=session, **phase))
        trace = {"number": 1002, "trace": "start", "began_s": 90.0, "ended_s": 130.0, "ending": "ended"}
        lists: dict[str, list[float]] = {
            name: [] for name in ("times", "columns", "marks", "limits", "findings")
        }
        connection.execute(insert(schema.trace).values(session=session, **trace, **lists))
        debrief = debrief_from_store(connection, session, pack)
    engine.dispose()
    assert [(one.from_s, one.records) for one in debrief.traces[-1].gaps] == [(108.0, 40)] * shown


@pytest.mark.parametrize(
    ("ending", "faults"), [("", (NOT_ENDED,)), ("broken off", (SESSION_BROKE_OFF,)), ("ended", ())]
)
@pytest.mark.usefixtures("data_dir")
def test_the_end_of_a_session_is_as_the_store_has_it(
    address: str, pack: Pack, ending: str, faults: tuple[str, ...]
) -> None:
    """A session without an end in the store may still run; only one that the store calls broken off broke off."""
    engine = open_store(address)
    with write_transaction(engine) as connection:
        connection.execute(update(schema.session).values(ending=ending))
        debrief = debrief_from_store(connection, known_sessions(None, connection)[0].uuid, pack)
    engine.dispose()
    assert (debrief.ending, debrief.faults) == (ending, (RECORDING_NOT_FOUND, *faults))


@pytest.mark.usefixtures("data_dir")
def test_a_session_that_was_not_recorded_is_not_called_lost(address: str, pack: Pack) -> None:
    """Where nothing was recorded, no recording is missed."""
    engine = open_store(address)
    with write_transaction(engine) as connection:
        connection.execute(update(schema.session).values(recording=""))
        debrief = debrief_from_store(connection, known_sessions(None, connection)[0].uuid, pack)
    engine.dispose()
    assert debrief.faults[0] == NOT_RECORDED


def _find(text: str, data_dir: DataDir | None, address: str) -> SessionRef:
    engine = open_store(address)
    try:
        with read_transaction(engine) as connection:
            return find_session(text, data_dir, connection)
    finally:
        engine.dispose()


def test_a_session_is_found(data_dir: DataDir, address: str) -> None:
    """A session is found as the last one, by the beginning of its id, by its name and by its recording."""
    last = _find("last", data_dir, address)
    assert (last.name, last.stored) == ("Second of heron", True)
    assert last.recording is not None
    assert _find(last.uuid[:6], data_dir, address) == last
    assert _find("Second of heron", data_dir, address) == last
    assert _find(str(last.recording), None, address).uuid == last.uuid


def test_a_session_without_its_recording_is_found_in_the_store(data_dir: DataDir, address: str) -> None:
    """A session without a recording is found in the store."""
    for recording in list_recordings(data_dir.recordings):
        recording.parts[0].unlink()
    last = _find("last", data_dir, address)
    assert (last.recording, last.stored) == (None, True)


def test_no_session_matches(data_dir: DataDir, address: str) -> None:
    """The fault lists the sessions and has a hint."""
    with pytest.raises(InputFaults, match="no session is called Sesion 1") as caught:
        _find("Sesion 1", data_dir, address)
    assert "did you mean Session 1" in str(caught.value)
    assert "Second of heron, 25 November 2026, 04:00 UTC" in str(caught.value)


def test_several_sessions_match(pack: Pack, data_dir: DataDir, address: str) -> None:
    """A name of several sessions is a fault."""
    record_two_sessions(pack, data_dir, address)
    with pytest.raises(InputFaults, match="2 sessions are called Session 1"):
        _find("Session 1", data_dir, address)


def test_without_sessions_there_is_a_hint(tmp_path: Path) -> None:
    """Without sessions the hint is the command that stores some, or the option that names the folder."""
    with pytest.raises(InputFaults, match=r"no session is stored yet\n.*holdshort watch stores each session"):
        find_session("last", DataDir(tmp_path), None)
    with pytest.raises(InputFaults, match=r"no session is stored yet\n.*--data-dir"):
        find_session("last", None, None)
    assert known_sessions(DataDir(tmp_path), None) == []
