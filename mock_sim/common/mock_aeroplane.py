"""What every aeroplane of the mock has in common: controls that are set, systems that are stepped, a state that is read.

Takes: a signal book, parts, systems, noise.  Gives: `Machine`, the base of each type.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from mock_sim.common.dynamics import SUB_STEP_S
from mock_sim.common.noise import Noise
from mock_sim.common.panel import Panel, Part, System
from rules.signals.model import Signal, Value

LONGEST_STEP_S = 0.5
SHORTEST_STEP_S = 0.01


class MockAeroplane:
    """One aeroplane.  A type lays out its panel, then puts its systems into `_systems` and calls `_publish`."""

    def __init__(self, signals: Mapping[str, Signal], parts: Iterable[Part], noise: Noise | None) -> None:
        """Lay out the panel.

        Args:
            signals: the book of the type.
            parts: what each system brings.
            noise: of the instruments; None for exact values.
        """
        self.panel = Panel(signals, parts)
        self.sim_s = 0.0
        self._noise = noise
        self._systems: tuple[System, ...] = ()
        self._shown: dict[str, Value] = {}

    @property
    def control_signals(self) -> Mapping[str, Signal]:
        """Every control that `set` takes, with its kind, words or travel."""
        return MappingProxyType(self.panel.controls)

    def set(self, name: str, value: Value) -> None:
        """Put a control into a position; what follows from it comes with the next steps.

        A control that something holds (a gear lever on the ground, a switch whose relay has let go) is moved back by the
        aeroplane itself, as in a real one.

        Args:
            name: the control's name, most often a signal's.
            value: a word, or a number in the unit of the control.

        Raises:
            ControlError: unknown control or word, or a number outside the travel; names the nearest.
        """
        if self.panel.set(name, value):
            self._shown[name] = (
                self.panel.words[name] if name in self.panel.words else self.panel.numbers[name]
            )

    def get(self, name: str) -> Value:
        """What a signal reads, or where a control stands that no signal shows.

        Args:
            name: a signal or a control.

        Raises:
            ControlError: neither.
        """
        return self._shown[name] if name in self._shown else self.panel.position(name)

    def step(self, dt_s: float) -> None:
        """Let time pass; nothing moves while the simulator is paused.

        Args:
            dt_s: 0.01 to 0.5 simulated seconds.

        Raises:
            ValueError: the time is outside these bounds.
        """
        if not SHORTEST_STEP_S <= dt_s <= LONGEST_STEP_S:
            raise ValueError(f"a step is {SHORTEST_STEP_S} to {LONGEST_STEP_S} s long, not {dt_s}")
        if self.panel.words["sim.paused"] == "yes":
            return
        parts = max(1, round(dt_s / SUB_STEP_S + 0.499))
        for _ in range(parts):
            for system in self._systems:
                system.step(dt_s / parts)
        self.sim_s += dt_s
        self._publish()

    def run(self, seconds: float, dt_s: float = 0.1) -> None:
        """Let a longer time pass in equal steps.

        Args:
            seconds: simulated seconds.
            dt_s: length of one step.
        """
        for _ in range(round(seconds / dt_s)):
            self.step(dt_s)

    def state(self) -> dict[str, Value]:
        """All signals of the book as they read now; a copy that the caller may keep."""
        return self._shown.copy()

    def _publish(self) -> None:
        """Bring what is shown up to date."""
        self._shown.update(self.panel.words)
        self._shown.update(self.panel.numbers)
        if self._noise is not None:
            self._noise.add(self._shown, self.panel.numbers)
