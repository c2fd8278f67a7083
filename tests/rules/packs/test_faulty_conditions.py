"""A pack with a fault in a condition loads: the condition has its fault, and the rest works."""

from __future__ import annotations

from pathlib import Path

from rules.language.checked_tree import FaultyCondition
from tests.rules.packs.sample_packs import fault_text, load_faults, load_text, replace_text


def test_a_faulty_condition_stays_alone(tmp_path: Path) -> None:
    """A pack whose only fault is in one condition loads, with that condition faulty."""
    pack = load_text(tmp_path, replace_text("fuel.pump.*.switch is on", "fuel.pump.*.swich is on"))
    (fault,) = pack.faults
    assert (fault.place.line, fault.place.column) == (20, 16)
    assert fault.hint == "did you mean fuel.pump.*.switch?"
    assert pack.items["flow.before_start.pumps"].condition == FaultyCondition(fault)
    assert not isinstance(pack.items["flow.before_start.beacon"].condition, FaultyCondition)


def test_a_faulty_cue_stays_alone(tmp_path: Path) -> None:
    """A gate with a broken cue must stay in the pack, with its fault."""
    pack = load_text(
        tmp_path, replace_text("cue: call.push_approved happened", "cue: call.push_aproved happened")
    )
    assert [(fault.place.line, fault.place.column) for fault in pack.faults] == [(36, 10)]
    assert isinstance(pack.gates[0].cue, FaultyCondition)


def test_fault_inside_a_folded_condition(tmp_path: Path) -> None:
    """A fault in a condition of several lines is placed on its own line."""
    folded = ">-\n          lights.beacon is on\n          and lights.stroob is on\n"
    pack = load_text(tmp_path, replace_text("lights.beacon is on\n        hold", folded + "        hold"))
    assert [fault_text(fault)[:6] for fault in pack.faults] == ["17:15:"]


def test_broken_conditions_are_reported_with_the_rest(tmp_path: Path) -> None:
    """If a pack is refused, faults of conditions are reported together with the others."""
    text = replace_text("hold: 2 s", "hold: 2").replace(
        "cue: call.push_approved happened", "cue: call.push happened"
    )
    assert [fault.split(": ")[0] for fault in load_faults(tmp_path, text)] == ["16:15", "36:10"]


def test_items_that_read_each_other(tmp_path: Path) -> None:
    """Items that read each other in a circle are faulty, each with its circle; the rest works."""
    text = replace_text("beacon: lights.beacon is on", "beacon: flow.pumps is met and lights.beacon is on")
    pack = load_text(tmp_path, text.replace("pumps: fuel.pump.*.switch is on", "pumps: flow.beacon is met"))
    beacon, pumps = "flow.before_start.beacon", "flow.before_start.pumps"
    assert [fault_text(fault) for fault in pack.faults] == [
        f"15:17: circular reference of items: {beacon} → {pumps} → {beacon}, expected no circle",
        f"20:16: circular reference of items: {pumps} → {beacon} → {pumps}, expected no circle",
    ]
    assert all(isinstance(pack.items[name].condition, FaultyCondition) for name in (beacon, pumps))
    assert not isinstance(pack.items["flow.before_start.accumulator"].condition, FaultyCondition)
