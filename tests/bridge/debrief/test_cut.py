"""Recordings that end in the middle, that begin in the middle, or that another program wrote."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from bridge.debrief.account import Account
from bridge.debrief.gather import account_of_recording
from bridge.debrief.tables import sheets
from bridge.record.reader import open_recording
from bridge.record.shelf import recordings
from bridge.record.writer import Limits
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.rejudge.flights import recorded

PIECES = 40
TWO_PARTS = Limits(least_free=0, part=20_000)


@pytest.fixture(scope="module")
def path(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A minute in which a bit of everything happens: silence, pauses, a jump of the clock, amended papers."""
    return recorded(pack, tmp_path_factory.mktemp("kept"))


@pytest.fixture(scope="module")
def minute(path: Path, pack: Pack) -> Account:
    """All of it."""
    return account_of_recording(open_recording(path), pack)


def _cut(path: Path, folder: Path, size: int, pack: Pack) -> Account | None:
    """The debrief of so many bytes of it; None where they hold no head."""
    cut = folder / path.name
    cut.write_bytes(path.read_bytes()[:size])
    try:
        return account_of_recording(open_recording(cut), pack)
    except InputFaults:
        return None


def _consistent(account: Account) -> None:
    """Nothing lies outside the session, and everything is in its order."""
    times = [stage.from_s for stage in account.stages] + [call.at_s for call in account.calls]
    times += [case.at_s for case in account.cases] + [gate.cue_at_s for gate in account.gates]
    times += [stretch.to_s for bar in account.bars for stretch in bar.stretches]
    assert all(account.from_s <= at_s <= account.to_s for at_s in times)
    assert all(one.to_s == after.from_s for one, after in pairwise(account.stages))
    for bar in account.bars:
        assert all(a.to_s <= b.from_s for a, b in pairwise(bar.stretches))
        assert all(a.life != b.life or a.to_s < b.from_s for a, b in pairwise(bar.stretches))
    for case in account.cases:
        assert case.closed_at_s is None or case.closed_at_s >= case.at_s
        assert (case.closed_at_s is None) == (case.finding.closed_s is None)
    assert all(sheet.columns for sheet in sheets(account))


def test_cut_anywhere_it_gives_what_is_there(path: Path, minute: Account, pack: Pack, tmp_path: Path) -> None:
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
        numbers = [case.finding.number for case in account.cases]
        assert numbers == [case.finding.number for case in minute.cases][: len(numbers)]
        assert [c.call for c in account.calls] == [c.call for c in minute.calls][: len(account.calls)]
        seen.add((len(numbers), bool(account.faults)))
    assert any(faults for _, faults in seen)
    assert len({count for count, _ in seen}) > 2


def test_the_whole_holds_together(minute: Account) -> None:
    """With a jump, pauses and silence all the same, every time lies within the session."""
    _consistent(minute)
    assert (minute.jumps, minute.faults, minute.ending) == (1, (), "ended")
    assert minute.cases
    (pressure,) = [bar for bar in minute.bars if bar.item == "flow.before.pressure"]
    assert str(pressure.stretches[-1].life) == "excused"
    assert len([stretch for stretch in pressure.stretches if str(stretch.life) == "excused"]) == 1


def test_papers_are_those_that_were_amended(minute: Account) -> None:
    """V1 is what the sheet was amended to in the middle of the session."""
    assert {one.label: one.value for one in minute.papers}["sheet V1"] == "128 kt"


def test_a_recording_without_a_frame(path: Path, pack: Pack, tmp_path: Path) -> None:
    """A head and nothing else is a session in which nothing was seen."""
    sizes = range(0, path.stat().st_size, 500)
    found = (account for size in sizes if (account := _cut(path, tmp_path, size, pack)) is not None)
    first = next(found)
    assert (first.stages, first.cases, first.from_s, first.to_s) == ((), (), 0.0, 0.0)
    assert first.faults
    _consistent(first)


def test_from_a_later_part(pack: Pack, tmp_path: Path) -> None:
    """Where the first part is gone, the rest is told from what its picture says, and that the beginning is missing."""
    recorded(pack, tmp_path / "parts", TWO_PARTS)
    (kept,) = recordings(tmp_path / "parts")
    assert len(kept.parts) > 1
    account = account_of_recording(open_recording(kept.parts[1]), pack)
    _consistent(account)
    assert account.faults[0] == "The recording begins with its part 2; what came before is missing here."


def test_entries_of_another_version_are_left_out(
    path: Path, minute: Account, pack: Pack, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What this program cannot read is counted, and the rest is told."""
    monkeypatch.setattr(
        "bridge.debrief.gather._DECODERS",
        {k: v for k, v in _decoders().items() if k != "/entry/notice"},
    )
    account = account_of_recording(open_recording(path), pack)
    assert account.notices == ()
    assert f"{len(minute.notices)} entries were written by another version" in account.faults[0]
    assert [case.finding for case in account.cases] == [case.finding for case in minute.cases]


def _decoders() -> dict[str, object]:
    from bridge.debrief import gather

    return dict(gather._DECODERS)
