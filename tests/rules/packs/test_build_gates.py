"""Gates of a pack: items that last over several gates."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.rules.packs.sample_packs import load_faults, load_text

PACK = """\
pack: {id: lasting, title: Lasting, signals: [twin_jet, trip]}
seats: {captain: Captain}
phases:
  stand: {title: Stand, code: STD}
  push: {title: Push, code: PBT}
  taxi: {title: Taxi, code: TXI}
  takeoff: {title: Take-off, code: TOF}
flows:
  stand:
    title: Stand
    phase: stand
    captain:
      - beacon: lights.beacon is on
        until: LAST
      - door: door.*.left is closed
        until: taxi
      - chocks: gear.chocks is removed
  taxi:
    title: Taxi
    phase: taxi
    captain:
      - light: lights.taxi is on
gates:
  push: {phase: push, cue: lights.logo is on, entry: lights.wing is on, needs: [flow stand]}
  taxi: {phase: taxi, cue: lights.logo is on, entry: lights.wing is on, needs: []}
  takeoff: {phase: takeoff, cue: lights.logo is on, entry: lights.wing is on, needs: [flow taxi]}
  back: {phase: push, leaves: [taxi, takeoff], cue: lights.logo is on, entry: lights.wing is on, needs: []}
"""
DOORS = ["flow.stand.door.1", "flow.stand.door.2"]


@pytest.mark.parametrize(
    ("last", "at_taxi", "at_takeoff"),
    [
        ("takeoff", ["flow.stand.beacon", *DOORS], ["flow.taxi.light", "flow.stand.beacon"]),
        ("taxi", ["flow.stand.beacon", *DOORS], ["flow.taxi.light"]),
        ("push", DOORS, ["flow.taxi.light"]),
    ],
)
def test_an_item_lasts_to_its_last_phase(
    tmp_path: Path, last: str, at_taxi: list[str], at_takeoff: list[str]
) -> None:
    """Each gate up to the last phase needs the item, match by match, and each item once; a way back does not."""
    pack = load_text(tmp_path, PACK.replace("LAST", last))
    needs = {gate.id: list(gate.needs) for gate in pack.gates}
    assert needs["push"] == ["flow.stand.beacon", *DOORS, "flow.stand.chocks"]
    assert (needs["taxi"], needs["takeoff"]) == (at_taxi, at_takeoff)
    assert needs["back"] == []


def test_the_last_phase_of_a_flow_counts_for_each_item_without_its_own(tmp_path: Path) -> None:
    """Items with a last phase of their own keep it; all others last as long as their flow."""
    text = PACK.replace("LAST", "push_end").replace("        until: push_end\n", "")
    pack = load_text(
        tmp_path, text.replace("    phase: stand\n", "    phase: stand\n    until: takeoff\n", 1)
    )
    needs = {gate.id: list(gate.needs) for gate in pack.gates}
    assert needs["taxi"] == ["flow.stand.beacon", *DOORS, "flow.stand.chocks"]
    assert needs["takeoff"] == ["flow.taxi.light", "flow.stand.beacon", "flow.stand.chocks"]


@pytest.mark.parametrize(
    ("last", "fault"),
    [
        ("stand", "14:16: stand is not later than stand, the phase of its flow, expected a later phase"),
        ("landing", "14:16: unknown phase landing, expected stand, push, taxi or takeoff"),
    ],
)
def test_the_last_phase_is_a_later_one(tmp_path: Path, last: str, fault: str) -> None:
    """A last phase that is unknown, or not after that of the flow, is a fault at its place."""
    faults = load_faults(tmp_path, PACK.replace("LAST", last))
    assert len(faults) == 1
    assert faults[0].startswith(fault)
