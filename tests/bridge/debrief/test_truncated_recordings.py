"""Tests of recordings that are truncated, begin with a later part, or were written by another version."""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path

import pytest

from bridge.debrief.from_recording import debrief_from_recording
from bridge.debrief.model import DebriefData
from bridge.debrief.tables import debrief_tables
from bridge.recording.reader import open_recording
from bridge.recording.recording_budget import list_recordings
from bridge.recording.writer import RecordingLimits
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.rejudge.recorded_flights import record_everything

PIECES = 40
TWO_PARTS = RecordingLimits(min_free_bytes=0, part_bytes=20_000)


@pytest.fixture(scope="module")
def path(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A minute with lost frames, pauses, a jump of the clock and a changed trip sheet."""
    return record_everything(pack, tmp_path_factory.mktemp("recorded"))


@pytest.fixture(scope="module")
def minute(path: Path, pack: Pack) -> DebriefData:
    """The debrief of the whole minute."""
    return debrief_from_recording(open_recording(path), pack)


def _cut(path: Path, folder: Path, size: int, pack: Pack) -> DebriefData | None:
    """The debrief of the first bytes of a recording; None if they contain no head."""
    cut = folder / path.name
    cut.write_bytes(path.read_bytes()[:size])
    os.utime(cut, (0, 0))  # long ago, so that it is not taken for a recording that is being written
    try:
        return debrief_from_recording(open_recording(cut), pack)
    except InputFaults:
        return None


def _assert_consistent(debrief: DebriefData) -> None:
    """Assert that all times are within the session and in order."""
    times = [phase.from_s for phase in debrief.phases] + [call.at_s for call in debrief.calls]
    times += [detail.at_s for detail in debrief.findings] + [gate.cue_at_s for gate in debrief.gates]
    times += [interval.to_s for item in debrief.item_histories for interval in item.intervals]
    assert all(debrief.from_s <= at_s <= debrief.to_s for at_s in times)
    assert all(one.to_s == after.from_s for one, after in pairwise(debrief.phases))
    for item in debrief.item_histories:
        assert all(a.to_s <= b.from_s for a, b in pairwise(item.intervals))
        assert all(a.status != b.status or a.to_s < b.from_s for a, b in pairwise(item.intervals))
    for detail in debrief.findings:
        assert detail.closed_at_s is None or detail.closed_at_s >= detail.at_s
        assert (detail.closed_at_s is None) == (detail.finding.closed_s is None)
    assert all(table.columns for table in debrief_tables(debrief))


def test_a_recording_truncated_anywhere(path: Path, minute: DebriefData, pack: Pack, tmp_path: Path) -> None:
    """A debrief of any beginning of a recording has a fault, is consistent, and has the first findings and calls of the whole."""
    size, seen = path.stat().st_size, set()
    for piece in range(PIECES):
        debrief = _cut(path, tmp_path, size * piece // PIECES, pack)
        if debrief is None:
            continue
        _assert_consistent(debrief)
        if debrief.faults:
            assert "Later data is missing." in debrief.faults[0]
            assert path.name in debrief.faults[0]
        numbers = [detail.finding.number for detail in debrief.findings]
        assert numbers == [detail.finding.number for detail in minute.findings][: len(numbers)]
        assert [c.call for c in debrief.calls] == [c.call for c in minute.calls][: len(debrief.calls)]
        seen.add((len(numbers), bool(debrief.faults)))
    assert any(faults for _, faults in seen)
    assert len({count for count, _ in seen}) > 2


def test_times_of_a_long_recording_are_consistent(minute: DebriefData) -> None:
    """With a jump, pauses and lost frames every time is within the session."""
    _assert_consistent(minute)
    assert (minute.clock_resets, minute.faults, minute.ending) == (1, (), "ended")
    assert minute.findings
    (pressure,) = [item for item in minute.item_histories if item.item == "flow.before.pressure"]
    assert str(pressure.intervals[-1].status) == "waived"
    assert len([interval for interval in pressure.intervals if str(interval.status) == "waived"]) == 1


def test_the_trip_sheet_is_the_changed_one(minute: DebriefData) -> None:
    """V1 is the value set in the middle of the session."""
    assert {one.label: one.value for one in minute.trip_values}["sheet V1"] == "128 kt"


def test_a_recording_without_a_frame(path: Path, pack: Pack, tmp_path: Path) -> None:
    """A recording of only a head gives a session without events."""
    sizes = range(0, path.stat().st_size, 500)
    found = (debrief for size in sizes if (debrief := _cut(path, tmp_path, size, pack)) is not None)
    first = next(found)
    assert (first.phases, first.findings, first.from_s, first.to_s) == ((), (), 0.0, 0.0)
    assert first.faults
    _assert_consistent(first)


def test_from_a_later_part(pack: Pack, tmp_path: Path) -> None:
    """Without its first part a recording is read from the keyframe of the next one, with a fault."""
    record_everything(pack, tmp_path / "parts", TWO_PARTS)
    (recording,) = list_recordings(tmp_path / "parts")
    assert len(recording.parts) > 1
    debrief = debrief_from_recording(open_recording(recording.parts[1]), pack)
    _assert_consistent(debrief)
    assert debrief.faults[0] == "The recording begins with its part 2. Earlier data is missing."


def test_events_of_another_version_are_left_out(
    path: Path, minute: DebriefData, pack: Pack, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Events that cannot be decoded are counted, and the others are used."""
    monkeypatch.setattr(
        "bridge.recording.reader._EVENT_DECODERS",
        {k: v for k, v in _decoders().items() if k != "/event/notice"},
    )
    debrief = debrief_from_recording(open_recording(path), pack)
    assert debrief.notices == ()
    assert f"{len(minute.notices)} events were written by another version" in debrief.faults[0]
    assert [detail.finding for detail in debrief.findings] == [detail.finding for detail in minute.findings]


def _decoders() -> dict[str, object]:
    from bridge.recording import reader

    return dict(reader._EVENT_DECODERS)
