"""Tests of bridge.session.gates_ahead: the next gates in each phase of the twin jet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import pytest

from bridge.session.gates_ahead import gates_ahead, gates_soon
from rules.judge.judge import Judge
from rules.judge.snapshot import Snapshot
from tests.shipped import shipped


@pytest.fixture(scope="module")
def judge() -> Judge:
    """Make a judge of the twin jet, before its first frame."""
    return Judge(*shipped("twin_jet"))


def snapshot_in(judge: Judge, phase: str, cued: Collection[str] = ()) -> Snapshot:
    """Make the snapshot of a phase, with its active gates, of which some are cued."""
    snapshot = judge.snapshot()
    gates = {
        gate.id: replace(
            snapshot.gates[gate.id], active=phase in gate.leaves, cued_s=0.0 if gate.id in cued else None
        )
        for gate in judge.pack.gates
    }
    return replace(snapshot, phase=phase, gates=gates)


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
def test_the_next_two_gates_of_each_phase(judge: Judge, phase: str, gates: list[str]) -> None:
    """Of the active gates the next two in the usual order of a flight are given."""
    assert [gate.id for gate in gates_soon(judge.pack, snapshot_in(judge, phase))] == gates


def test_all_cued_gates_come_first(judge: Judge) -> None:
    """If gates are cued, all of them are given and no other."""
    snapshot = snapshot_in(judge, "taxi", {"return_to_stand", "takeoff"})
    assert [gate.id for gate in gates_ahead(judge.pack, snapshot)] == ["takeoff", "return_to_stand"]
