"""The whole sector of the mock crew: parked and dark to parked and dark."""

from __future__ import annotations

from rules.judge.events import Verdict
from tests.packs_flight.recorded_sector import CleanSector

PHASES = [
    "power_up", "before_start", "push_back", "engine_start", "after_start", "before_taxi", "taxi", "line_up", "takeoff",
    "high_speed", "rotation", "initial_climb", "climb", "high_climb", "cruise", "descent", "approach", "final",
    "short_final", "landing", "taxi_in", "parked", "shutdown", "secure", "dark",
]  # fmt: skip


def test_a_correct_flight_gets_no_notice(clean: CleanSector) -> None:
    """There are no findings and no notices from the first frame to the last."""
    assert [f.sentence for f in clean.judged.judge.findings] == []
    assert clean.judged.notice_sentences == []


def test_every_phase_once_and_in_order(clean: CleanSector) -> None:
    """The phases follow the flight; none is skipped or repeated."""
    assert clean.judged.phases == PHASES


def test_every_gate_of_the_flight_is_cued_before_it_is_entered(clean: CleanSector) -> None:
    """There is time to act at every gate that needs something."""
    needing = {g.id for g in clean.pack.gates if g.needs and g.phase in PHASES}
    abnormal = {
        "taxi_again",
        "emergency_shutdown",
        "return_to_stand",
        "start_again",
        "taxi_on_one_engine",
        "descent_again",
        "approach_again",
        "climb_away",
    }
    leads = {g: clean.judged.entered_s(g) - clean.judged.cued_s(g) for g in needing - abnormal}
    at_once = {g for g, lead_s in leads.items() if lead_s <= 0}
    # The call of the checklist is the entry; a landing that is told in the flare comes in the sample of the touchdown.
    assert at_once <= {"before_taxi", "landing"}


def test_the_flight_leaves_no_item_unread(clean: CleanSector) -> None:
    """Every item that a gate of the flight needs is met at some time of the flight."""
    states = clean.judged.judge.snapshot().items
    never = [
        item
        for gate in clean.pack.gates
        if gate.id not in {"taxi_again", "return_to_stand", "approach_again", "climb_away", "go_around"}
        for item in gate.needs
        if states[item].verdict is not Verdict.MET and states[item].last_met_s is None
    ]
    assert sorted(set(never)) == []
