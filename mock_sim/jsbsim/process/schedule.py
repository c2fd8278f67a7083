"""A schedule: a generator that acts and then yields the condition that it waits for.

Takes: an aircraft, a pilot, slips, and a callback for events.  Gives: `Schedule`, stepped by `fly`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator
from typing import TypeAlias

from mock_sim.jsbsim.process.pilot import StockPilot
from mock_sim.jsbsim.process.properties import AircraftProperties

Ready: TypeAlias = Callable[[], bool]
"""True when the schedule may continue."""
EventCallback: TypeAlias = Callable[[float, str, str], None]
"""Called for each event: simulated seconds, its text, and the slip that it is ('' for none)."""

_FULL_SWEEP = (1.0, -1.0, 0.0)
_SWEEP_HOLD_S = 0.6
_BRAKES = ("left", "right")


class Schedule(ABC):
    """The schedule of one flight; `step` advances it when its condition is met."""

    def __init__(
        self, aircraft: AircraftProperties, pilot: StockPilot, slips: frozenset[str], on_event: EventCallback
    ) -> None:
        self.aircraft = aircraft
        self.pilot = pilot
        self.slips = slips
        self._on_event = on_event
        self._steps = self.steps()
        self._ready: Ready | None = next(self._steps)

    @abstractmethod
    def steps(self) -> Iterator[Ready]:
        """Run the flight in order."""

    @property
    def finished(self) -> bool:
        """True when the schedule is over."""
        return self._ready is None

    def step(self) -> None:
        """Advance if the condition is met, and let the pilot fly."""
        if self._ready is not None and self._ready():
            self._ready = next(self._steps, None)
        self.pilot.fly()

    def emit(self, text: str) -> None:
        """Report an event."""
        self._on_event(self.aircraft.sim_s, text, "")

    def should_slip(self, name: str, text: str) -> bool:
        """Return True if this slip is to be made now, and report it."""
        if name in self.slips:
            self._on_event(self.aircraft.sim_s, text, name)
        return name in self.slips

    def wait_for(self, wait_s: float) -> Ready:
        """Return a condition: some simulated seconds have passed."""
        due_s = self.aircraft.sim_s + wait_s
        return lambda: self.aircraft.sim_s >= due_s

    def wait_until_at_least(self, path: str, least: float) -> Ready:
        """Return a condition: a property has reached a value."""
        return lambda: self.aircraft[path] >= least

    def sweep_axes(self, axes: Iterable[str]) -> Iterator[Ready]:
        """Move surfaces from stop to stop, one axis after the other."""
        for axis in axes:
            for stop in _FULL_SWEEP:
                self.aircraft[f"fcs/{axis}-cmd-norm"] = stop
                yield self.wait_for(_SWEEP_HOLD_S)

    def toe_brakes(self, pressed: float) -> None:
        """Press both brake pedals, 0 to 1."""
        for side in _BRAKES:
            self.aircraft[f"fcs/{side}-brake-cmd-norm"] = pressed

    def parking_brake(self, *, on: bool) -> None:
        """Set the handle and both wheel brakes: in these models the handle alone does not brake."""
        self.aircraft["fcs/center-brake-cmd-norm"] = float(on)
        self.toe_brakes(float(on))
