"""What each frame on the wire says: a number, the simulator's clock, every signal, and the calls made so far.

A call is a field `call.NAME` that holds the simulated time at which it was made, in every frame from then on, so
that a lost frame loses no call; before that the field is there without a value.

Takes: the moments of a flight, and tricks of the clock.  Gives: frames with their times.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from mock_sim.crew import Call
from mock_sim.run import Moment
from mock_sim.scenario import Scenario
from rules.signals.model import Value

CALL = "call."
NUMBERS = 1 << 32
"""A sequence number has 32 bits and begins again after the last."""


@dataclass(frozen=True, slots=True)
class Pause:
    """At a simulated time the simulation is held for some seconds of the wall clock at rate 1.

    Held silently nothing is sent at all; otherwise the same state goes out again and again.
    """

    at_s: float
    length_s: float
    silent: bool = False


@dataclass(frozen=True, slots=True)
class Jump:
    """At a simulated time the clock that is sent jumps: by a negative number on a reposition or reset."""

    at_s: float
    by_s: float


class Outgoing(NamedTuple):
    """One frame: when it is due after the first one at rate 1, its number, the clock it carries, and its fields."""

    due_s: float
    number: int
    clock_s: float
    fields: dict[str, Value | None]


class Frames:
    """The frames of one flight, to be gone through once."""

    def __init__(
        self,
        scenario: Scenario,
        moments: Iterable[Moment],
        *,
        rate_hz: float = 10.0,
        tricks: Sequence[Pause | Jump] = (),
        first_number: int = 0,
    ) -> None:
        """Prepare to send.

        Args:
            scenario: names the calls that can be made.
            moments: the flight.
            rate_hz: frames in a second of a pause.
            tricks: of the clock, in any order.
            first_number: sequence number of the first frame, for tests of the wrap.
        """
        self._moments = moments
        self._period_s = 1.0 / rate_hz
        self._tricks = sorted(tricks, key=lambda trick: trick.at_s)
        self._calls: dict[str, Value | None] = {f"{CALL}{name}": None for name in call_names(scenario)}
        self._number = first_number
        self._held_s = 0.0
        self._jumped_s = 0.0

    def __iter__(self) -> Iterator[Outgoing]:
        """Every frame; a pause adds frames, or time without any."""
        for moment in self._moments:
            while self._tricks and self._tricks[0].at_s <= moment.sim_s:
                yield from self._trick(self._tricks.pop(0), moment)
            self._say(moment.calls)
            yield self._frame(moment, {})

    def _trick(self, trick: Pause | Jump, moment: Moment) -> Iterator[Outgoing]:
        """What a trick sends before the frame of its moment."""
        if isinstance(trick, Jump):
            self._jumped_s += trick.by_s
            return
        if trick.silent:
            self._held_s += trick.length_s
            return
        for _ in range(round(trick.length_s / self._period_s)):
            yield self._frame(moment, {"sim.paused": "yes"})
            self._held_s += self._period_s

    def _say(self, calls: Iterable[Call]) -> None:
        """Remember the calls, with the clock as it is sent."""
        for call in calls:
            self._calls[f"{CALL}{call.name}"] = max(0.0, call.sim_s + self._jumped_s)

    def _frame(self, moment: Moment, other: dict[str, Value]) -> Outgoing:
        """The next frame."""
        number, self._number = self._number, (self._number + 1) % NUMBERS
        clock_s = round(max(0.0, moment.sim_s + self._jumped_s), 6)
        return Outgoing(
            moment.sim_s + self._held_s, number, clock_s, {**moment.state, **other, **self._calls}
        )


def call_names(scenario: Scenario) -> list[str]:
    """Every call that a scenario can make, each once, in the order in which its seats stand.

    Args:
        scenario: with or without slips.
    """
    made = (call for steps in scenario.seats.values() for step in steps for call in step.calls)
    return list(dict.fromkeys(made))
