"""A schedule: a generator that does something and then yields what it waits for.

Takes: an aircraft, a pilot, slips, and where to say what happens.  Gives: `Script`, stepped by `fly`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator
from typing import TypeAlias

from mock_sim.jsbsim.process.pilot import StockPilot
from mock_sim.jsbsim.process.properties import AircraftProperties

Ready: TypeAlias = Callable[[], bool]
"""Whether the schedule may go on."""
EventCallback: TypeAlias = Callable[[float, str, str], None]
"""Told of each event: simulated seconds, what happened, and the slip that it is ('' for none)."""

_FULL_SWEEP = (1.0, -1.0, 0.0)
_SWEEP_HOLD_S = 0.6
_BRAKES = ("left", "right")


class Schedule(ABC):
    """One flight's schedule; `step` goes on with it whenever what it waits for has come."""

    def __init__(
        self, aircraft: AircraftProperties, pilot: StockPilot, slips: frozenset[str], on_event: EventCallback
    ) -> None:
        """Begin at the stand."""
        self.aircraft = aircraft
        self.pilot = pilot
        self.slips = slips
        self._on_event = on_event
        self._steps = self.steps()
        self._ready: Ready | None = next(self._steps)

    @abstractmethod
    def steps(self) -> Iterator[Ready]:
        """What is done, in order."""

    @property
    def finished(self) -> bool:
        """Whether the schedule has come to its end."""
        return self._ready is None

    def step(self) -> None:
        """Go on if it may be gone on; fly what is to be held."""
        if self._ready is not None and self._ready():
            self._ready = next(self._steps, None)
        self.pilot.fly()

    def emit(self, what: str) -> None:
        """Tell an event."""
        self._on_event(self.aircraft.sim_s, what, "")

    def should_slip(self, name: str, what: str) -> bool:
        """Whether this slip is to be made now; if so it is told."""
        if name in self.slips:
            self._on_event(self.aircraft.sim_s, what, name)
        return name in self.slips

    def wait_for(self, wait_s: float) -> Ready:
        """Ready so many simulated seconds from now."""
        due_s = self.aircraft.sim_s + wait_s
        return lambda: self.aircraft.sim_s >= due_s

    def wait_until_at_least(self, path: str, least: float) -> Ready:
        """Ready when a property is at least so large."""
        return lambda: self.aircraft[path] >= least

    def sweep_axes(self, axes: Iterable[str]) -> Iterator[Ready]:
        """Move surfaces stop to stop, one axis after the other."""
        for axis in axes:
            for stop in _FULL_SWEEP:
                self.aircraft[f"fcs/{axis}-cmd-norm"] = stop
                yield self.wait_for(_SWEEP_HOLD_S)

    def toe_brakes(self, pressed: float) -> None:
        """Both brake pedals, 0 to 1."""
        for side in _BRAKES:
            self.aircraft[f"fcs/{side}-brake-cmd-norm"] = pressed

    def parking_brake(self, *, on: bool) -> None:
        """The handle with both wheel brakes: these models brake by the wheel, their handle alone holds nothing."""
        self.aircraft["fcs/center-brake-cmd-norm"] = float(on)
        self.toe_brakes(float(on))
