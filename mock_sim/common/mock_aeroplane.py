"""Base class of the mock aeroplanes: set controls, advance systems, read signals.

Takes: a signal book, parts, systems, noise.  Gives: `MockAeroplane`, the base of each type.
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
    """One aeroplane.  A subclass lays out its panel, puts its systems into `_systems` and calls `_publish`."""

    def __init__(self, signals: Mapping[str, Signal], parts: Iterable[Part], noise: Noise | None) -> None:
        """Build the panel.

        Args:
            signals: the signal book of the type.
            parts: controls and signals of each system.
            noise: of the instruments; None for exact values.
        """
        self.panel = Panel(signals, parts)
        self.sim_s = 0.0
        self._noise = noise
        self._systems: tuple[System, ...] = ()
        self._shown: dict[str, Value] = {}

    @property
    def control_signals(self) -> Mapping[str, Signal]:
        """Every control that `set` accepts, with its kind and its words or range."""
        return MappingProxyType(self.panel.controls)

    def set(self, name: str, value: Value) -> None:
        """Put a control into a position; the effects follow in the next steps.

        The aeroplane itself moves back a control that something holds (a gear lever on the ground, a switch whose relay
        has released), as a real one does.

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
        """Return the value of a signal, or the position of a control that no signal shows.

        Args:
            name: a signal or a control.

        Raises:
            ControlError: neither.
        """
        return self._shown[name] if name in self._shown else self.panel.position(name)

    def step(self, dt_s: float) -> None:
        """Advance the simulation; nothing moves while the simulator is paused.

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
        """Advance the simulation for a longer time in equal steps.

        Args:
            seconds: simulated seconds.
            dt_s: length of one step.
        """
        for _ in range(round(seconds / dt_s)):
            self.step(dt_s)

    def state(self) -> dict[str, Value]:
        """Return a copy of all signals of the book."""
        return self._shown.copy()

    def _publish(self) -> None:
        """Copy the panel to the published signals and add noise."""
        self._shown.update(self.panel.words)
        self._shown.update(self.panel.numbers)
        if self._noise is not None:
            self._noise.add(self._shown, self.panel.numbers)
