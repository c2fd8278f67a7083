"""One seat at work: it waits, reaches out, moves controls, speaks, and goes on to its next step.

Takes: the steps of one seat and what all seats share.  Gives: controls moved, calls made, steps done.
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
    """What a crew needs of an aeroplane."""

    def set(self, name: str, value: Value) -> None:
        """Put a control somewhere."""

    def get(self, name: str) -> Value:
        """Read a signal."""


@dataclass(slots=True)
class CrewState:
    """What all seats see: the aeroplane, the time, who has done and said what, and how to drive."""

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
    """One person.  `tick` is called at every moment; `finished` is true when the list is done."""

    def __init__(self, name: str, steps: tuple[Step, ...], state: CrewState, seed: int) -> None:
        """Sit down; a seed makes this person's pace."""
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
        """All steps, one after the other; yields whenever this moment has nothing more for the seat."""
        for step in steps:
            self.current_step = step.key
            yield from self._step(step)

    def _step(self, step: Step) -> Iterator[None]:
        """Wait, reach, act, speak."""
        for wait in step.wait:
            yield from self._wait(wait)
        yield from self._pause(step.takes_s * self._slowness(step))
        shared = self._state
        shared.slip_times.extend((slip, shared.sim_s) for slip in step.slips)
        shared.pending_corrections.extend((self.name, mend) for mend in step.corrections)
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
        """How slow this person is at this step; its own chance, so that a slip changes no other step's pace."""
        return Random(f"{self._seed} {self.name} {step.key}").uniform(0.85, 1.2)

    def _wait(self, wait: Wait) -> Iterator[None]:
        """Wait for one thing."""
        if wait.seconds is not None:
            yield from self._pause(wait.seconds)
        while not is_satisfied(wait, self._state):
            yield

    def _pause(self, length_s: float) -> Iterator[None]:
        """Let simulated time go by."""
        until_s = self._state.sim_s + length_s
        while self._state.sim_s < until_s:
            yield

    def _move(self, move: Move) -> Iterator[None]:
        """Move a control, at once or slowly, and keep it there for a while."""
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
    """Whether what is waited for has come; seconds are always over, since only a seat can count them.

    Args:
        wait: one thing to wait for.
        state: what all seats see.
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
