"""Signals that the trip sheet dispatches inoperative: left out of a `*`, their items waived."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.faults import InputFaults
from rules.language.traversal import signal_names
from rules.packs.model import Pack, declared_id
from rules.packs.trip_sheet import TripSheet
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_text, replace_text


def _pack(folder: Path, *inoperative: str, text: str = COMPLETE_PACK) -> Pack:
    """The complete pack with these signals inoperative."""
    return load_text(folder, text, TripSheet("Lindmere 417", {}, inoperative))


def test_nothing_is_waived_without_a_reason(tmp_path: Path) -> None:
    """With nothing inoperative no item is waived."""
    assert {item.waived for item in _pack(tmp_path).items.values()} == {""}


def test_one_match_of_several_is_waived(tmp_path: Path) -> None:
    """The pump that is inoperative is waived, and the others are judged."""
    waived = _waived_pumps(_pack(tmp_path, "fuel.pump.left_aft"))
    assert waived.pop("flow.before_start.pumps.left_aft") == "dispatched inoperative"
    assert set(waived.values()) == {""}


def test_a_part_of_a_match_is_left_out(tmp_path: Path) -> None:
    """Of a pump whose light is inoperative only the switch is judged."""
    text = replace_text(
        "fuel.pump.*.switch is on", "fuel.pump.*.switch is on and fuel.pump.*.low_pressure is off"
    )
    pack = _pack(tmp_path, "fuel.pump.left_aft.low_pressure", text=text)
    assert set(_waived_pumps(pack).values()) == {""}
    assert pack.items["flow.before_start.pumps.left_aft"].signals == ("fuel.pump.left_aft.switch",)
    assert len(pack.items["flow.before_start.pumps.right_aft"].signals) == 2


@pytest.mark.parametrize("name", ["fuel.pump", "fuel"])
def test_all_of_them_waive_the_item(tmp_path: Path, name: str) -> None:
    """An item that reads only inoperative signals is waived in all its matches, each with its condition."""
    pack = _pack(tmp_path, name)
    assert set(_waived_pumps(pack).values()) == {"dispatched inoperative"}
    assert all(pack.items[match].condition is not None for match in _waived_pumps(pack))


def _waived_pumps(pack: Pack) -> dict[str, str]:
    """Reason for which each fuel pump is waived."""
    pumps = (item for item in pack.items.values() if declared_id(item.id) == "flow.before_start.pumps")
    return {item.id: item.waived for item in pumps}


def test_a_single_signal_waives_its_item(tmp_path: Path) -> None:
    """An item on one inoperative signal is waived, without a `*`."""
    pack = _pack(tmp_path, "gear.brake_accumulator")
    assert pack.items["flow.before_start.accumulator"].waived == "dispatched inoperative"
    assert pack.items["flow.before_start.beacon"].waived == ""


def test_trip_values_do_not_keep_an_item(tmp_path: Path) -> None:
    """A comparison with the sheet is waived where the aeroplane's own signal is inoperative."""
    assert (
        _pack(tmp_path, "fuel.total").items["checklist.before_start.fuel"].waived == "dispatched inoperative"
    )


def test_a_beginning_ends_at_a_dot(tmp_path: Path) -> None:
    """`lights.bea` is not the beacon."""
    with pytest.raises(InputFaults, match=r"lights\.bea is dispatched inoperative") as caught:
        _pack(tmp_path, "lights.bea")
    assert caught.value.faults[0].hint == "did you mean lights.beacon?"


def test_a_watch_on_inoperative_signals_is_left_out(tmp_path: Path) -> None:
    """A watch that expects something only of inoperative signals is left out."""
    assert _pack(tmp_path, "lights.beacon").watches == ()
    assert len(_pack(tmp_path, "engine.1").watches) == 1


@pytest.mark.parametrize("signal", ["engine.1.n2", "engine.1.fuel_lever", "engine.1"])
def test_a_match_of_a_watch_is_left_out_by_what_it_expects(tmp_path: Path, signal: str) -> None:
    """A match is left out that expects something of inoperative signals alone; one that applies by them stays and reads them."""
    text = replace_text("any engine.*.n2 > 5 %", "engine.*.n2 > 5 %").replace(
        "    expect: lights.beacon is on", "    expect: engine.*.fuel_lever is open"
    )
    watches = _pack(tmp_path, signal, text=text).watches
    if signal == "engine.1.n2":
        assert [w.id for w in watches] == ["watch.beacon.1", "watch.beacon.2"]
        assert watches[0].applies is not None
        assert signal_names(watches[0].applies) == ("engine.1.n2",)
    else:
        assert [w.id for w in watches] == ["watch.beacon.2"]


@pytest.mark.parametrize("applies", ["engine.*.n2 > 5 %", "any engine.*.n2 > 5 %"])
def test_a_watch_that_applies_by_inoperative_signals_alone_stays(tmp_path: Path, applies: str) -> None:
    """What a watch expects of other signals is judged, whatever says when it applies."""
    text = replace_text("any engine.*.n2 > 5 %", applies)
    (watch,) = _pack(tmp_path, "engine", text=text).watches
    assert watch.applies is not None
    assert signal_names(watch.applies) == ("engine.1.n2", "engine.2.n2")


@pytest.mark.parametrize("bound", ["at least 6", "exactly 6", "not at most 5"])
def test_an_item_that_counts_an_inoperative_signal_is_not_waived(tmp_path: Path, bound: str) -> None:
    """A count of all that a `*` stands for means all that are left."""
    text = replace_text("fuel.pump.*.switch is on", f"{bound} of (fuel.pump.*.switch is on)")
    item = _pack(tmp_path, "fuel.pump.left_aft", text=text).items["flow.before_start.pumps"]
    assert item.waived == ""
    assert len(item.signals) == 5
    assert _pack(tmp_path, "fuel.pump", text=text).items["flow.before_start.pumps"].waived != ""


def test_an_item_that_reads_another_is_not_waived_by_its_own_signals(tmp_path: Path) -> None:
    """An item that also reads another item stays."""
    text = replace_text("fuel.pump.*.switch is on", "lights.logo is on and flow.beacon is met")
    assert _pack(tmp_path, "lights.logo", text=text).items["flow.before_start.pumps"].waived == ""
