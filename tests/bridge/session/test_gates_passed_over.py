"""Tests of bridge.session.gates_passed_over: the gates whose needs were never judged."""

from __future__ import annotations

import pytest

from bridge.session.gates_passed_over import gates_passed_over
from bridge.session.journal import Journal
from bridge.terminal.summary import judged_lines
from rules.judge.events import GateEntered, PhaseEntered
from rules.packs.model import Pack
from tests.bridge.page.page_builders import page_pack

PACK = """
pack: {id: over, title: Over, signals: [twin_jet, trip]}
seats: {captain: Captain}
phases:
  stand: {title: At the stand, code: STD}
  pushing: {title: Push back, code: PBT}
  taxiing: {title: Taxi, code: TXI}
  returning: {title: Return, code: TXI}
  rolling: {title: Takeoff, code: TOF}
gates:
  push: {phase: pushing, cue: lights.beacon is on, entry: flight.ground_speed > 1 kt, needs: [flow all]}
  taxi: {phase: taxiing, cue: lights.taxi is on, entry: flight.ground_speed > 5 kt, needs: [flow all]}
  back: {phase: returning, cue: lights.taxi is off, entry: flight.ground_speed > 9 kt, needs: [flow all], leaves: [taxiing]}
  roll: {phase: rolling, cue: lights.logo is on, entry: flight.ground_speed > 40 kt, needs: [flow all], leaves: [stand, pushing, taxiing]}
flows:
  all: {title: All, phase: stand, captain: [{documents: , confirm: Documents on board}]}
"""


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """Four gates, one of them beside the way."""
    return page_pack(tmp_path_factory.mktemp("over"), PACK)


def entered(sim_s: float, gate: str) -> GateEntered:
    """A gate that was entered with all judged."""
    return GateEntered(sim_s, gate, 0, 1, 1, 0, 0)


@pytest.mark.parametrize(
    ("phases", "gates", "over"),
    [
        ([(9.0, "pushing", "stand"), (20.0, "taxiing", "pushing")], [(9.0, "push"), (20.0, "taxi")], []),
        ([(9.0, "rolling", "stand")], [(9.0, "roll")], ["push", "taxi"]),
        ([(9.0, "rolling", "stand")], [], ["push", "taxi", "roll"]),  # its own entry was not seen either
        ([(9.0, "rolling", "taxiing")], [(9.0, "roll")], []),  # the return lies beside the way
        ([(9.0, "stand", "taxiing")], [], []),  # back
        ([(9.0, "rolling", "")], [], []),  # the watch began there
    ],
)
def test_gates_passed_over(
    pack: Pack, phases: list[tuple[float, str, str]], gates: list[tuple[float, str]], over: list[str]
) -> None:
    """A gate between two phases that was not entered is passed over, where the way leads through it."""
    found = gates_passed_over(pack, [PhaseEntered(*one) for one in phases], [entered(*one) for one in gates])
    assert [one.gate.id for one in found] == over
    assert {one.sim_s for one in found} <= {9.0}


def test_the_summary_names_gates_that_were_passed_over(pack: Pack) -> None:
    """It says so beside the gates that were passed."""
    journal = Journal()
    for event in (
        PhaseEntered(0.0, "stand", ""),
        entered(9.0, "roll"),
        PhaseEntered(9.0, "rolling", "stand"),
    ):
        journal(event)
    assert judged_lines(journal, pack) == [
        "1 gate passed, all needs judged",
        "2 gates passed over, not judged: Push back (0:00:09), Taxi (0:00:09)",
    ]
