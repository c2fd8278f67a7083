"""Recordings that end in the middle, that begin in the middle, or that another program wrote."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from bridge.debrief.from_recording import debrief_from_recording
from bridge.debrief.model import DebriefData
from bridge.debrief.tables import debrief_tables
from bridge.recording.reader import open_recording
from bridge.recording.retention import list_recordings
from bridge.recording.writer import RecordingLimits
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.rejudge.recorded_flights import record_everything

PIECES = 40
TWO_PARTS = RecordingLimits(min_free_bytes=0, part_bytes=20_000)


@pytest.fixture(scope="module")
def path(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A minute in which a bit of everything happens: silence, pauses, a jump of the clock, amended papers."""
    return record_everything(pack, tmp_path_factory.mktemp("kept"))


@pytest.fixture(scope="module")
def minute(path: Path, pack: Pack) -> DebriefData:
    """All of it."""
    return debrief_from_recording(open_recording(path), pack)


def _cut(path: Path, folder: Path, size: int, pack: Pack) -> DebriefData | None:
    """The debrief of so many bytes of it; None where they hold no head."""
    cut = folder / path.name
    cut.write_bytes(path.read_bytes()[:size])
    try:
        return debrief_from_recording(open_recording(cut), pack)
    except InputFaults:
        return None


def _consistent(account: DebriefData) -> None:
    """Nothing lies outside the session, and everything is in its order."""
    times = [stage.from_s for stage in account.phases] + [call.at_s for call in account.calls]
    times += [case.at_s for case in account.findings] + [gate.cue_at_s for gate in account.gates]
    times += [stretch.to_s for bar in account.item_histories for stretch in bar.intervals]
    assert all(account.from_s <= at_s <= account.to_s for at_s in times)
    assert all(one.to_s == after.from_s for one, after in pairwise(account.phases))
    for bar in account.item_histories:
        assert all(a.to_s <= b.from_s for a, b in pairwise(bar.intervals))
        assert all(a.life != b.life or a.to_s < b.from_s for a, b in pairwise(bar.intervals))
    for case in account.findings:
        assert case.closed_at_s is None or case.closed_at_s >= case.at_s
        assert (case.closed_at_s is None) == (case.finding.closed_s is None)
    assert all(sheet.columns for sheet in debrief_tables(account))


def test_cut_anywhere_it_gives_what_is_there(
    path: Path, minute: DebriefData, pack: Pack, tmp_path: Path
) -> None:
    """Wherever a recording is cut, the debrief says so, holds together, and has the beginning of what the whole one has."""
    size, seen = path.stat().st_size, set()
    for piece in range(PIECES):
        account = _cut(path, tmp_path, size * piece // PIECES, pack)
        if account is None:
            continue
        _consistent(account)
        if account.faults:
            assert "What came after is missing here." in account.faults[0]
            assert path.name in account.faults[0]
        numbers = [case.finding.number for case in account.findings]
        assert numbers == [case.finding.number for case in minute.findings][: len(numbers)]
        assert [c.call for c in account.calls] == [c.call for c in minute.calls][: len(account.calls)]
        seen.add((len(numbers), bool(account.faults)))
    assert any(faults for _, faults in seen)
    assert len({count for count, _ in seen}) > 2


def test_the_whole_holds_together(minute: DebriefData) -> None:
    """With a jump, pauses and silence all the same, every time lies within the session."""
    _consistent(minute)
    assert (minute.clock_resets, minute.faults, minute.ending) == (1, (), "ended")
    assert minute.findings
    (pressure,) = [bar for bar in minute.item_histories if bar.item == "flow.before.pressure"]
    assert str(pressure.intervals[-1].life) == "waived"
    assert len([stretch for stretch in pressure.intervals if str(stretch.life) == "waived"]) == 1


def test_papers_are_those_that_were_amended(minute: DebriefData) -> None:
    """V1 is what the sheet was amended to in the middle of the session."""
    assert {one.label: one.value for one in minute.trip_values}["sheet V1"] == "128 kt"


def test_a_recording_without_a_frame(path: Path, pack: Pack, tmp_path: Path) -> None:
    """A head and nothing else is a session in which nothing was seen."""
    sizes = range(0, path.stat().st_size, 500)
    found = (account for size in sizes if (account := _cut(path, tmp_path, size, pack)) is not None)
    first = next(found)
    assert (first.phases, first.findings, first.from_s, first.to_s) == ((), (), 0.0, 0.0)
    assert first.faults
    _consistent(first)


def test_from_a_later_part(pack: Pack, tmp_path: Path) -> None:
    """Where the first part is gone, the rest is told from what its picture says, and that the beginning is missing."""
    record_everything(pack, tmp_path / "parts", TWO_PARTS)
    (kept,) = list_recordings(tmp_path / "parts")
    assert len(kept.parts) > 1
    account = debrief_from_recording(open_recording(kept.parts[1]), pack)
    _consistent(account)
    assert account.faults[0] == "The recording begins with its part 2; what came before is missing here."


def test_entries_of_another_version_are_left_out(
    path: Path, minute: DebriefData, pack: Pack, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What this program cannot read is counted, and the rest is told."""
    monkeypatch.setattr(
        "bridge.debrief.from_recording._DECODERS",
        {k: v for k, v in _decoders().items() if k != "/event/notice"},
    )
    account = debrief_from_recording(open_recording(path), pack)
    assert account.notices == ()
    assert f"{len(minute.notices)} entries were written by another version" in account.faults[0]
    assert [case.finding for case in account.findings] == [case.finding for case in minute.findings]


def _decoders() -> dict[str, object]:
    from bridge.debrief import from_recording

    return dict(from_recording._DECODERS)
