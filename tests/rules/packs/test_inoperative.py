"""Signals that the trip sheet dispatches inoperative: left out of a `*`, their items waived."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.faults import InputFaults
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_text, replace_text


def _pack(folder: Path, *inoperative: str, text: str = COMPLETE_PACK) -> Pack:
    """The complete pack with these signals inoperative."""
    return load_text(folder, text, TripSheet("Lindmere 417", {}, inoperative))


def test_nothing_is_waived_without_a_reason(tmp_path: Path) -> None:
    """With nothing inoperative no item is waived."""
    assert {item.waived for item in _pack(tmp_path).items.values()} == {""}


def test_one_of_several_is_left_out(tmp_path: Path) -> None:
    """A `*` leaves out the pump that is inoperative, and the item stays."""
    item = _pack(tmp_path, "fuel.pump.left_aft").items["flow.before_start.pumps"]
    assert item.waived == ""
    assert "fuel.pump.left_aft.switch" not in item.signals
    assert "fuel.pump.right_aft.switch" in item.signals


@pytest.mark.parametrize("name", ["fuel.pump", "fuel"])
def test_all_of_them_waive_the_item(tmp_path: Path, name: str) -> None:
    """An item that reads only inoperative signals is waived, with its condition."""
    item = _pack(tmp_path, name).items["flow.before_start.pumps"]
    assert item.waived == "dispatched inoperative"
    assert item.condition is not None


def test_a_single_signal_waives_its_item(tmp_path: Path) -> None:
    """An item on one inoperative signal is waived, without a `*`."""
    pack = _pack(tmp_path, "gear.brake_accumulator")
    assert pack.items["flow.before_start.accumulator"].waived == "dispatched inoperative"
    assert pack.items["flow.before_start.beacon"].waived == ""


def test_trip_values_do_not_keep_an_item(tmp_path: Path) -> None:
    """A comparison with the sheet is waived where the aeroplane's own signal is inoperative."""
    assert _pack(tmp_path, "fuel.total").items["checklist.before_start.1"].waived == "dispatched inoperative"


def test_a_beginning_ends_at_a_dot(tmp_path: Path) -> None:
    """`lights.bea` is not the beacon."""
    with pytest.raises(InputFaults, match=r"lights\.bea is dispatched inoperative") as caught:
        _pack(tmp_path, "lights.bea")
    assert caught.value.faults[0].hint == "did you mean lights.beacon?"


def test_a_watch_on_inoperative_signals_is_left_out(tmp_path: Path) -> None:
    """A watch that expects something only of inoperative signals is left out."""
    assert _pack(tmp_path, "lights.beacon").watches == ()
    assert len(_pack(tmp_path, "engine.1").watches) == 1


def test_an_item_that_reads_another_is_not_waived_by_its_own_signals(tmp_path: Path) -> None:
    """An item that also reads another item stays."""
    text = replace_text("fuel.pump.*.switch is on", "lights.logo is on and flow.beacon is met")
    assert _pack(tmp_path, "lights.logo", text=text).items["flow.before_start.pumps"].waived == ""
