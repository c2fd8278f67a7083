"""Data are missing at each gate of the flight: the phases go on, and no error is made of an unseen event."""

from __future__ import annotations

import pytest

from rules.judge.events import GateEntered
from rules.judge.judge import Judge
from rules.packs.model import FindingKind
from rules.signals.model import Frame, Quality, Sample, Value
from tests.packs_flight.recorded_sector import CleanSector, JudgedFlight

LATE = {"landing", "taxi_in", "shutdown", "secure", "dark"}
"""Gates after the landing; the one of parking may be passed over, since the engines stop soon after it."""


def fly_with_gaps(clean: CleanSector, gates: list[str], before_s: float, after_s: float) -> JudgedFlight:
    """The correct flight, without the records from some time before each of these gates until after it.

    Calls are entered by the crew, not received, so none is lost.
    """
    entries = {e.gate: e.sim_s for e in clean.judged.entries if isinstance(e, GateEntered)}
    spans = [(entries[gate] - before_s, entries[gate] + after_s) for gate in gates]
    judged, missing_from_s = JudgedFlight(Judge(clean.pack, clean.trip, calls_entered=True)), None
    last: dict[str, Value] = {}
    for moment in clean.moments:
        if any(first <= moment.sim_s <= end for first, end in spans):
            missing_from_s = moment.sim_s if missing_from_s is None else missing_from_s
            for call in moment.calls:
                judged.entries += judged.judge.enter_call(call)
            continue
        state = dict(moment.state)
        changes = [Sample(n, v, Quality.FRESH, moment.sim_s) for n, v in state.items() if last.get(n) != v]
        frame = Frame(
            "test", moment.sim_s, moment.sim_s, 0, tuple(state), changes, moment.calls, missing_from_s
        )
        judged.entries += judged.judge.judge_frame(frame)
        last, missing_from_s = state, None
    return judged


def every_second(gates: list[str], first: int) -> list[str]:
    """Each second gate, so that the gaps do not touch."""
    return gates[first::2]


@pytest.mark.parametrize("first", [0, 1])
@pytest.mark.parametrize(("before_s", "after_s"), [(1.0, 1.0), (4.0, 6.0)])
def test_a_gap_at_a_gate_does_not_end_the_judging(
    clean: CleanSector, first: int, before_s: float, after_s: float
) -> None:
    """The last phase is reached, every gate on the ground after the flight is entered, and nothing is found but doubts."""
    entered = [e.gate for e in clean.judged.entries if isinstance(e, GateEntered)]
    gates = list(dict.fromkeys(gate for gate in entered if gate != "dark"))  # nothing is sent after it
    judged = fly_with_gaps(clean, every_second(gates, first), before_s, after_s)
    assert judged.phases[-1] == clean.judged.phases[-1]
    assert set(judged.phases) >= LATE
    assert {e.gate for e in judged.entries if isinstance(e, GateEntered)} >= LATE
    assert {
        f.item: f.sentence for f in judged.judge.findings if f.kind is not FindingKind.NOT_VERIFIABLE
    } == {}
