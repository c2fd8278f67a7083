"""The clean sector, flown once for all tests of this folder, with checkpoints from which other flights continue.

Takes: nothing.  Gives: its moments once a second, when each step was done, and the halt before a step.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from mock_sim.run import Flight, FlightCheckpoint, FlightMoment
from mock_sim.scenario import Scenario
from rules.signals.model import Value

RATE_HZ = 1.0
CHECKPOINT_PERIOD_S = 60


@dataclass(frozen=True, slots=True)
class CleanFlight:
    """One flight from the first second to the last."""

    scenario: Scenario
    moments: list[FlightMoment]
    step_times_s: dict[str, float]
    checkpoints: list[FlightCheckpoint]

    def at(self, step: str) -> dict[str, Value]:
        """The state at the first moment after a step was done."""
        return self.since(self.step_times_s[step])

    def since(self, sim_s: float) -> dict[str, Value]:
        """The state at the first moment of a time or after it."""
        return next(moment.state for moment in self.moments if moment.sim_s >= sim_s)

    def checkpoint_before(self, *steps: str) -> FlightCheckpoint:
        """The last halt at which none of some steps was done yet."""
        first_s = min(self.step_times_s[step] for step in steps)
        return [halt for halt in self.checkpoints if halt.sim_s < first_s - 5.0][-1]


def new_flight(slips: list[str] | None = None, events: list[str] | None = None) -> Flight:
    """A sector that has not begun, without noise."""
    return Flight("sector", slips or [], events=events or [], rate_hz=RATE_HZ, noise=False)


@cache
def clean_flight() -> CleanFlight:
    """The clean sector, flown once."""
    flight = new_flight()
    moments: list[FlightMoment] = []
    halts: list[FlightCheckpoint] = []
    for moment in flight:
        moments.append(moment)
        if moment.sim_s % CHECKPOINT_PERIOD_S == 0.0:
            halts.append(flight.checkpoint())
    return CleanFlight(flight.scenario, moments, flight.crew.step_times_s, halts)
