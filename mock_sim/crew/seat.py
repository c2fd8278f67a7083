"""One seat at work: it waits, reaches out, moves controls, speaks, and goes on to its next step.

Takes: the steps of one seat and what all seats share.  Gives: controls moved, calls made, steps done.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import dropwhile
from random import Random
from typing import Protocol

from mock_sim.scenario.model import Drive, Fly, Mend, Move, Scenario, Step, Wait
from rules.signals.model import Value


class Cockpit(Protocol):
    """What a crew needs of an aeroplane."""

    def set(self, name: str, value: Value) -> None:
        """Put a control somewhere."""

    def get(self, name: str) -> Value:
        """Read a signal."""


@dataclass(slots=True)
class Shared:
    """What all seats see: the aeroplane, the time, who has done and said what, and how to drive."""

    scenario: Scenario
    cockpit: Cockpit
    sim_s: float = 0.0
    done: dict[str, float] = field(default_factory=dict)
    said: dict[str, float] = field(default_factory=dict)
    calls: list[tuple[str, str]] = field(default_factory=list)
    slips: list[tuple[str, float]] = field(default_factory=list)
    drive: Drive | None = None
    fly: Fly | None = None
    mends: list[tuple[str, Mend]] = field(default_factory=list)
    mends_due_s: dict[str, float] = field(default_factory=dict)
    mended: dict[str, float] = field(default_factory=dict)


class Seat:
    """One person.  `tick` is called at every moment; `finished` is true when the list is done."""

    def __init__(self, name: str, steps: tuple[Step, ...], shared: Shared, seed: int) -> None:
        """Sit down; a seed makes this person's pace."""
        self.name = name
        self.finished = False
        self.at = ""
        self._shared = shared
        self._seed = seed
        self._work = self._steps(dropwhile(lambda step: f"{name}.{step.key}" in shared.done, steps))

    def tick(self) -> None:
        """Do what is due at this moment."""
        if not self.finished and next(self._work, self) is self:
            self.finished = True

    def _steps(self, steps: Iterable[Step]) -> Iterator[None]:
        """All steps, one after the other; yields whenever this moment has nothing more for the seat."""
        for step in steps:
            self.at = step.key
            yield from self._step(step)

    def _step(self, step: Step) -> Iterator[None]:
        """Wait, reach, act, speak."""
        for wait in step.wait:
            yield from self._wait(wait)
        yield from self._pause(step.takes_s * self._pace(step))
        shared = self._shared
        shared.slips.extend((slip, shared.sim_s) for slip in step.slips)
        shared.mends.extend((self.name, mend) for mend in step.mends)
        for name, written in step.put.items():
            shared.cockpit.set(name, shared.scenario.value(written))
        shared.drive = step.drive or shared.drive
        shared.fly = step.fly or shared.fly
        for move in step.move:
            yield from self._move(move)
        for call in step.calls:
            shared.said[call] = shared.sim_s
            shared.calls.append((call, self.name))
        shared.done[f"{self.name}.{step.key}"] = shared.sim_s

    def _pace(self, step: Step) -> float:
        """How slow this person is at this step; its own chance, so that a slip changes no other step's pace."""
        return Random(f"{self._seed} {self.name} {step.key}").uniform(0.85, 1.2)

    def _wait(self, wait: Wait) -> Iterator[None]:
        """Wait for one thing."""
        if wait.seconds is not None:
            yield from self._pause(wait.seconds)
        while not holds(wait, self._shared):
            yield

    def _pause(self, length_s: float) -> Iterator[None]:
        """Let simulated time go by."""
        until_s = self._shared.sim_s + length_s
        while self._shared.sim_s < until_s:
            yield

    def _move(self, move: Move) -> Iterator[None]:
        """Move a control, at once or slowly, and keep it there for a while."""
        shared = self._shared
        goal, start = shared.scenario.value(move.to), shared.cockpit.get(move.signal)
        begun_s = shared.sim_s
        if isinstance(goal, float) and isinstance(start, float):
            while (passed_s := shared.sim_s - begun_s) < move.over_s:
                shared.cockpit.set(move.signal, start + (goal - start) * passed_s / move.over_s)
                yield
        shared.cockpit.set(move.signal, goal)
        yield from self._pause(move.hold_s)


def holds(wait: Wait, shared: Shared) -> bool:
    """Whether what is waited for has come; seconds are always over, since only a seat can count them.

    Args:
        wait: one thing to wait for.
        shared: what all seats see.
    """
    if wait.call is not None:
        return wait.call in shared.said
    if wait.done is not None:
        return wait.done in shared.done
    if wait.signal is None:
        return True
    value, read = shared.cockpit.get(wait.signal), shared.scenario.value
    if wait.equals is not None and read(wait.equals) != value:
        return False
    low, high = (None if bound is None else read(bound) for bound in (wait.at_least, wait.at_most))
    return not (
        (low is not None and float(value) < float(low)) or (high is not None and float(value) > float(high))
    )
