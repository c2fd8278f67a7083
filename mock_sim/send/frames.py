"""Builds the content of each frame: number, simulated time, every signal, and the calls made so far.

A call is a field `call.NAME` that holds the simulated time at which it was made, in every frame from then on, so
that a lost frame loses no call; before that the field is there without a value.

Takes: the moments of a flight, and clock faults.  Gives: frames with their times.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from mock_sim.crew import CrewCall
from mock_sim.run import FlightMoment
from mock_sim.scenario import Scenario
from rules.signals.model import CALL_PREFIX, Value

SEQUENCE_MODULUS = 1 << 32
"""A sequence number has 32 bits and starts again at 0 after the last value."""


@dataclass(frozen=True, slots=True)
class ClockPause:
    """A pause: at a simulated time the simulation stops for some wall-clock seconds at rate 1.

    With `silent` no frames are sent; otherwise the same state is sent repeatedly.
    """

    at_s: float
    length_s: float
    silent: bool = False


@dataclass(frozen=True, slots=True)
class ClockJump:
    """A clock jump at a simulated time; negative for a reposition or reset."""

    at_s: float
    by_s: float


class OutgoingFrame(NamedTuple):
    """One frame: seconds after the first one at rate 1, its number, its clock, and its fields."""

    due_s: float
    number: int
    clock_s: float
    fields: dict[str, Value | None]


class FlightFrames:
    """The frames of one flight; iterate once."""

    def __init__(
        self,
        scenario: Scenario,
        moments: Iterable[FlightMoment],
        *,
        rate_hz: float = 10.0,
        clock_faults: Sequence[ClockPause | ClockJump] = (),
        first_number: int = 0,
    ) -> None:
        """Prepare the frames.

        Args:
            scenario: for the names of its calls.
            moments: of the flight.
            rate_hz: frames a second during a pause.
            clock_faults: pauses and jumps, in any order.
            first_number: sequence number of the first frame, for tests of the wrap-around.
        """
        self._moments = moments
        self._period_s = 1.0 / rate_hz
        self._clock_faults = sorted(clock_faults, key=lambda fault: fault.at_s)
        self._calls: dict[str, Value | None] = {f"{CALL_PREFIX}{name}": None for name in call_names(scenario)}
        self._number = first_number
        self._paused_s = 0.0
        self._jumped_s = 0.0

    def __iter__(self) -> Iterator[OutgoingFrame]:
        """Yield every frame; a pause adds frames, or time without frames."""
        for moment in self._moments:
            while self._clock_faults and self._clock_faults[0].at_s <= moment.sim_s:
                yield from self._apply_clock_fault(self._clock_faults.pop(0), moment)
            self._record_calls(moment.calls)
            yield self._next_frame(moment, {})

    def _apply_clock_fault(
        self, fault: ClockPause | ClockJump, moment: FlightMoment
    ) -> Iterator[OutgoingFrame]:
        """Yield the frames of a clock fault before the frame of its moment."""
        if isinstance(fault, ClockJump):
            self._jumped_s += fault.by_s
            return
        if fault.silent:
            self._paused_s += fault.length_s
            return
        for _ in range(round(fault.length_s / self._period_s)):
            yield self._next_frame(moment, {"sim.paused": "yes"})
            self._paused_s += self._period_s

    def _record_calls(self, calls: Iterable[CrewCall]) -> None:
        """Store the calls with the clock as it is sent."""
        for call in calls:
            self._calls[f"{CALL_PREFIX}{call.name}"] = max(0.0, call.sim_s + self._jumped_s)

    def _next_frame(self, moment: FlightMoment, other: dict[str, Value]) -> OutgoingFrame:
        """Build the next frame."""
        number, self._number = self._number, (self._number + 1) % SEQUENCE_MODULUS
        clock_s = round(max(0.0, moment.sim_s + self._jumped_s), 6)
        return OutgoingFrame(
            moment.sim_s + self._paused_s, number, clock_s, {**moment.state, **other, **self._calls}
        )


def call_names(scenario: Scenario) -> list[str]:
    """List every call that a scenario can make, each once, in the order of its seats.

    Args:
        scenario: with or without slips.
    """
    made = (call for steps in scenario.seats.values() for step in steps for call in step.calls)
    return list(dict.fromkeys(made))
