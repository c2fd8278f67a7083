"""A flight of the mock simulator: the aeroplane and its crew, moment by moment.

Takes: a scenario, the slips to put into it, a seed.  Gives: simulated time, state and calls at each moment.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from copy import deepcopy
from math import ceil
from pathlib import Path
from typing import NamedTuple

from mock_sim.common.mock_aeroplane import MockAeroplane
from mock_sim.crew import Crew, CrewCall, CrewSlip
from mock_sim.jsbsim.embedded import JsbsimHalyard220
from mock_sim.piston import Halyard12
from mock_sim.scenario import (
    AeroplaneInterface,
    Scenario,
    choose_events,
    choose_slips,
    load_scenario,
    with_events,
    with_slips,
)
from mock_sim.scenario.model import NextSector
from mock_sim.twin_jet import Halyard220
from rules.faults import HoldshortError
from rules.signals.model import Value

MAX_STEP_S = 0.1
"""The longest time between two ticks of the crew, simulated seconds."""


MIN_RATE_HZ, MAX_RATE_HZ = 0.1, 100.0


AEROPLANES: dict[str, Callable[..., MockAeroplane]] = {
    "halyard_220": Halyard220,
    "halyard_12": Halyard12,
    "halyard_220_jsbsim": JsbsimHalyard220,
}
"""The class of each aeroplane that a scenario may name."""


class StuckError(HoldshortError):
    """The scenario took longer than allowed; the message gives what each seat was waiting for."""


class FlightMoment(NamedTuple):
    """One moment of the flight: time, all signals, and the calls since the previous moment."""

    sim_s: float
    state: dict[str, Value]
    calls: tuple[CrewCall, ...]


class FlightCheckpoint(NamedTuple):
    """A flight at one moment, from which other flights of the same scenario can continue."""

    sim_s: float
    calls: tuple[CrewCall, ...]
    aeroplane: MockAeroplane
    crew: Crew


class Flight:
    """One flight; iterate once: `for moment in flight`.

    Args:
        scenario: a name, a path, or a scenario that was loaded.
        slips: ids of the scenario's catalogue, `demo` or `all`.
        events: ids of the scenario's events.
        seed: gives noise and the crew's pace; the same seed gives the same flight.
        rate_hz: moments in a simulated second, 0.1 to 100.
        noise: True for instruments with noise.

    Raises:
        InputFaults: the scenario has faults, or lacks a slip.
        ValueError: the rate is out of its range.
    """

    def __init__(
        self,
        scenario: str | Path | Scenario = "departure",
        slips: Iterable[str] = (),
        seed: int = 0,
        *,
        events: Iterable[str] = (),
        rate_hz: float = 10.0,
        noise: bool = True,
    ) -> None:
        if not MIN_RATE_HZ <= rate_hz <= MAX_RATE_HZ:
            raise ValueError(f"{MIN_RATE_HZ:g} to {MAX_RATE_HZ:g} moments a second, not {rate_hz:g}")
        read = scenario if isinstance(scenario, Scenario) else load_scenario(scenario, _interface_of)
        self.aeroplane: MockAeroplane = AEROPLANES[read.aeroplane](seed=seed, noise=noise)
        self.slips = choose_slips(read, slips)
        self.events = choose_events(read, events)
        self.scenario = with_events(with_slips(read, self.slips), self.events)
        self._next_sectors = [_sector_scenario(event.then) for event in self.events if event.then]
        self.crew = Crew(self.scenario, self.aeroplane, seed)
        self._seed = seed
        self._sim_s = 0.0
        self._calls: tuple[CrewCall, ...] = ()
        self._earlier_slips: list[CrewSlip] = []
        self._longest_s = sum((sector.longest_s for sector in self._next_sectors), self.scenario.longest_s)
        self.rate_hz = rate_hz
        self._period_s = 1.0 / rate_hz
        self._sub_steps = ceil(self._period_s / MAX_STEP_S - 1e-9)

    def __iter__(self) -> Iterator[FlightMoment]:
        """Yield every moment, from second 0 to the end of the scenario.

        Raises:
            StuckError: the scenario did not end within its longest time.
        """
        count = round(self._sim_s / self._period_s)
        # The calls of a checkpoint's own moment are made already, so the crew does not make them again.
        self._calls = (*self._calls, *self.crew.tick(self._sim_s))
        yield FlightMoment(self._sim_s, self.aeroplane.state(), self._calls)
        while not self._advance_sector():
            calls: list[CrewCall] = []
            for part in range(1, self._sub_steps + 1):
                self.aeroplane.step(self._period_s / self._sub_steps)
                calls += self.crew.tick((count + part / self._sub_steps) * self._period_s)
            count += 1
            self._sim_s, self._calls = round(count * self._period_s, 6), tuple(calls)
            if self._sim_s > self._longest_s:
                waiting = ", ".join(f"{seat} at {step}" for seat, step in self.crew.current_steps.items())
                raise StuckError(
                    f"scenario {self.scenario.name} did not end within {self._sim_s:g} s; {waiting}"
                )
            yield FlightMoment(self._sim_s, self.aeroplane.state(), self._calls)

    def checkpoint(self) -> FlightCheckpoint:
        """Copy this moment; the flight itself is not changed."""
        aeroplane = deepcopy(self.aeroplane)
        return FlightCheckpoint(
            self._sim_s,
            self._calls,
            aeroplane,
            Crew(self.scenario, aeroplane, self._seed, previous=self.crew),
        )

    def resume_from(self, checkpoint: FlightCheckpoint) -> Flight:
        """Start from a checkpoint of another flight of the same scenario; call it before the first moment.

        A step that was in progress starts again.  The world settings of this flight's events are made now.

        Args:
            checkpoint: of a flight with the same rate.

        Returns:
            This flight.
        """
        self._sim_s, self._calls = checkpoint.sim_s, checkpoint.calls
        self.aeroplane = deepcopy(checkpoint.aeroplane)
        self.crew = Crew(self.scenario, self.aeroplane, self._seed, previous=checkpoint.crew)
        for event in self.events:
            for name, written in event.world.items():
                self.aeroplane.set(name, self.scenario.value(written))
        return self

    def _advance_sector(self) -> bool:
        """Return True at the end of the last sector; after another sector start the next crew."""
        if self.crew.finished and self._next_sectors:
            self._earlier_slips += self.crew.slip_records()
            self.crew = Crew(self._next_sectors.pop(0), self.aeroplane, self._seed)
        return self.crew.finished

    def slip_records(self) -> list[CrewSlip]:
        """Return the slips that the crew has made so far, each with its seat and simulated time."""
        return [*self._earlier_slips, *self.crew.slip_records()]


def _interface_of(name: str) -> AeroplaneInterface:
    """Return the controls and signals of an aeroplane that a scenario may name."""
    machine = AEROPLANES[name](noise=False)
    return AeroplaneInterface(machine.control_signals, {**machine.control_signals, **machine.panel.signals})


def _sector_scenario(sector: NextSector) -> Scenario:
    """Load the scenario of a following sector."""
    read = load_scenario(sector.scenario, _interface_of)
    update = {"trip": read.trip | sector.trip, "world": read.world | sector.world}
    return read.model_copy(update=update)
