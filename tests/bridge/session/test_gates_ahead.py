"""Tests of bridge.session.gates_ahead: the next gates in each phase of the twin jet."""

from __future__ import annotations

import pytest

from bridge.session.gates_ahead import gates_ahead, gates_soon
from rules.judge.judge import Judge
from rules.packs.inheritance import SHIPPED_DIR
from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import load_trip_sheet


@pytest.fixture(scope="module")
def core() -> Judge:
    """A core of the twin jet, before its first frame."""
    papers = load_trip_sheet(SHIPPED_DIR / "twin_jet" / "trip_demo.yaml")
    return Judge(load_pack("twin_jet", trip=papers), papers)


@pytest.mark.parametrize(
    ("phase", "gates"),
    [
        ("power_up", ["before_start", "push_back"]),
        ("before_start", ["push_back", "engine_start"]),
        ("push_back", ["engine_start", "after_start"]),
        ("taxi", ["line_up", "takeoff"]),
        ("line_up", ["takeoff", "high_speed"]),
        ("takeoff", ["high_speed", "rotation"]),
        ("rejected", ["taxi_again", "line_up"]),
        ("climb", ["high_climb", "cruise"]),
        ("final", ["short_final", "landing"]),
        ("go_around", ["approach_again", "final"]),
        ("parked", ["shutdown", "secure"]),
        ("shutdown", ["secure", "dark"]),
    ],
)
def test_the_next_gate_is_the_one_that_leads_on(core: Judge, phase: str, gates: list[str]) -> None:
    """Of the gates in play that one is shown which a crew would call the next, and the one behind it."""
    core.context.phase = phase
    core.context.active_gates = {gate.id for gate in core.context.pack.gates if phase in gate.leaves}
    assert [gate.id for gate in gates_soon(core)] == gates


def test_cued_gates_are_the_next_all_of_them(core: Judge) -> None:
    """What the crew is about to do comes before anything that they might do."""
    core.context.phase = "taxi"
    core.context.active_gates = {gate.id for gate in core.context.pack.gates if "taxi" in gate.leaves}
    core.context.cued_gates = {"return_to_stand", "takeoff"}
    assert [gate.id for gate in gates_ahead(core)] == ["return_to_stand", "takeoff"]
