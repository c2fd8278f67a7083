"""The clean sector, flown once for all tests of this folder, with places from which other flights go on.

Takes: nothing.  Gives: its moments once a second, when each step was done, and the halt before a step.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from mock_sim.run import Flight, Halt, Moment
from mock_sim.scenario import Scenario
from rules.signals.model import Value

RATE_HZ = 1.0
HALT_EVERY_S = 60


@dataclass(frozen=True, slots=True)
class Flown:
    """One flight from the first second to the last."""

    scenario: Scenario
    moments: list[Moment]
    done: dict[str, float]
    halts: list[Halt]

    def at(self, step: str) -> dict[str, Value]:
        """The state at the first moment after a step was done."""
        return self.since(self.done[step])

    def since(self, sim_s: float) -> dict[str, Value]:
        """The state at the first moment of a time or after it."""
        return next(moment.state for moment in self.moments if moment.sim_s >= sim_s)

    def halt_before(self, *steps: str) -> Halt:
        """The last halt at which none of some steps was done yet."""
        first_s = min(self.done[step] for step in steps)
        return [halt for halt in self.halts if halt.sim_s < first_s - 5.0][-1]


def fresh(slips: list[str] | None = None, events: list[str] | None = None) -> Flight:
    """A sector that has not begun, without noise."""
    return Flight("sector", slips or [], events=events or [], rate_hz=RATE_HZ, noise=False)


@cache
def clean() -> Flown:
    """The clean sector, flown once."""
    flight = fresh()
    moments: list[Moment] = []
    halts: list[Halt] = []
    for moment in flight:
        moments.append(moment)
        if moment.sim_s % HALT_EVERY_S == 0.0:
            halts.append(flight.halt())
    return Flown(flight.scenario, moments, flight.crew.done, halts)
