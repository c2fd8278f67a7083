"""One seat: it waits, takes its time, sets controls, makes calls, and continues with its next step.

Takes: the steps of one seat and the state that all seats share.  Gives: controls moved, calls made, steps done.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import dropwhile
from random import Random
from typing import Protocol

from mock_sim.scenario.model import Correction, Drive, Fly, Move, Scenario, Step, Wait
from rules.signals.model import Value


class Cockpit(Protocol):
    """The part of an aeroplane that a crew uses."""

    def set(self, name: str, value: Value) -> None:
        """Put a control somewhere."""

    def get(self, name: str) -> Value:
        """Read a signal."""


@dataclass(slots=True)
class CrewState:
    """State that all seats share: aeroplane, time, steps done, calls made, and how to drive and fly."""

    scenario: Scenario
    cockpit: Cockpit
    sim_s: float = 0.0
    step_times_s: dict[str, float] = field(default_factory=dict)
    call_times_s: dict[str, float] = field(default_factory=dict)
    new_calls: list[tuple[str, str]] = field(default_factory=list)
    slip_times: list[tuple[str, float]] = field(default_factory=list)
    drive: Drive | None = None
    fly: Fly | None = None
    pending_corrections: list[tuple[str, Correction]] = field(default_factory=list)
    corrections_due_s: dict[str, float] = field(default_factory=dict)
    correction_times_s: dict[str, float] = field(default_factory=dict)


class CrewSeat:
    """One person.  `tick` is called at every moment; `finished` is True when the list is done."""

    def __init__(self, name: str, steps: tuple[Step, ...], state: CrewState, seed: int) -> None:
        self.name = name
        self.finished = False
        self.current_step = ""
        self._state = state
        self._seed = seed
        self._progress = self._steps(
            dropwhile(lambda step: f"{name}.{step.key}" in state.step_times_s, steps)
        )

    def tick(self) -> None:
        """Do what is due at this moment."""
        if not self.finished and next(self._progress, self) is self:
            self.finished = True

    def _steps(self, steps: Iterable[Step]) -> Iterator[None]:
        """Run all steps in order; yield when this moment has no more work for the seat."""
        for step in steps:
            self.current_step = step.key
            yield from self._step(step)

    def _step(self, step: Step) -> Iterator[None]:
        """Wait, take the time, act and make the calls."""
        for wait in step.wait:
            yield from self._wait(wait)
        yield from self._pause(step.takes_s * self._slowness(step))
        shared = self._state
        shared.slip_times.extend((slip, shared.sim_s) for slip in step.slips)
        shared.pending_corrections.extend((self.name, correction) for correction in step.corrections)
        for name, written in step.settings.items():
            shared.cockpit.set(name, shared.scenario.value(written))
        shared.drive = step.drive or shared.drive
        shared.fly = step.fly or shared.fly
        for move in step.move:
            yield from self._move(move)
        for call in step.calls:
            shared.call_times_s[call] = shared.sim_s
            shared.new_calls.append((call, self.name))
        shared.step_times_s[f"{self.name}.{step.key}"] = shared.sim_s

    def _slowness(self, step: Step) -> float:
        """Return the pace factor of this person at this step; independent of all other steps, so that a slip does not change their pace."""
        return Random(f"{self._seed} {self.name} {step.key}").uniform(0.85, 1.2)

    def _wait(self, wait: Wait) -> Iterator[None]:
        """Wait for one thing."""
        if wait.seconds is not None:
            yield from self._pause(wait.seconds)
        while not is_satisfied(wait, self._state):
            yield

    def _pause(self, length_s: float) -> Iterator[None]:
        """Wait for some simulated seconds."""
        until_s = self._state.sim_s + length_s
        while self._state.sim_s < until_s:
            yield

    def _move(self, move: Move) -> Iterator[None]:
        """Move a control, at once or slowly, and hold it there."""
        shared = self._state
        goal, start = shared.scenario.value(move.to), shared.cockpit.get(move.signal)
        begun_s = shared.sim_s
        if isinstance(goal, float) and isinstance(start, float):
            while (passed_s := shared.sim_s - begun_s) < move.over_s:
                shared.cockpit.set(move.signal, start + (goal - start) * passed_s / move.over_s)
                yield
        shared.cockpit.set(move.signal, goal)
        yield from self._pause(move.hold_s)


def is_satisfied(wait: Wait, state: CrewState) -> bool:
    """Return True if an awaited thing has come; seconds count as over, since only a seat can count them.

    Args:
        wait: one thing to wait for.
        state: shared by all seats.
    """
    if wait.call is not None:
        return wait.call in state.call_times_s
    if wait.done is not None:
        return wait.done in state.step_times_s
    if wait.signal is None:
        return True
    value, read = state.cockpit.get(wait.signal), state.scenario.value
    if wait.equals is not None and read(wait.equals) != value:
        return False
    low, high = (None if bound is None else read(bound) for bound in (wait.at_least, wait.at_most))
    return not (
        (low is not None and float(value) < float(low)) or (high is not None and float(value) > float(high))
    )
