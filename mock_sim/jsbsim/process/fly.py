"""Flies a stock aeroplane from its start position to the end of its schedule.

Takes: which aeroplane, the port, the pace, slips.  Gives: rows by the library's own UDP output, and events.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from mock_sim.jsbsim.process import piston_schedule, twin_jet_schedule
from mock_sim.jsbsim.process.aircraft import STEPS_A_FRAME, RealTimePacer, StockAircraft
from mock_sim.jsbsim.process.columns import PISTON_COLUMNS, RATE_HZ, TWIN_JET_COLUMNS
from mock_sim.jsbsim.process.command import ScheduleEvent
from mock_sim.jsbsim.process.schedule import EventCallback, Schedule

MAX_FLIGHT_S = 300.0
"""The longest flight: with every slip at once an aeroplane may never leave the ground."""


@dataclass(frozen=True, slots=True)
class FlightJob:
    """Options of one flight.

    `speed` is simulated seconds in a second, 0 for as fast as possible.  `seconds` ends the flight; 0: its schedule does,
    or `MAX_FLIGHT_S`.  `reset_s` puts the aeroplane back to its start position once at that time; 0: never.
    """

    kind: str
    port: int
    speed: float = 20.0
    slips: frozenset[str] = frozenset()
    seconds: float = 0.0
    reset_s: float = 0.0


def fly(job: FlightJob, on_event: Callable[[ScheduleEvent], None]) -> None:
    """Fly until the schedule is over.

    Raises:
        ModuleNotFoundError: The library is not installed.
    """
    with tempfile.TemporaryDirectory(prefix="holdshort-stock-") as folder:
        aircraft = _load_aircraft(job, Path(folder))
        pace = RealTimePacer(job.speed)
        if job.reset_s:
            _fly_until(job, aircraft, pace, on_event, job.reset_s)
            aircraft.restart()
            on_event(ScheduleEvent(aircraft.sim_s, "put back to the stand"))
        _fly_until(job, aircraft, pace, on_event, job.seconds)


def _load_aircraft(job: FlightJob, folder: Path) -> StockAircraft:
    """Load the aeroplane at its start position."""
    if job.kind == "jet":
        return StockAircraft(
            twin_jet_schedule.MODEL, twin_jet_schedule.STAND, TWIN_JET_COLUMNS, job.port, folder
        )
    return StockAircraft(piston_schedule.MODEL, piston_schedule.STAND, PISTON_COLUMNS, job.port, folder)


def _make_schedule(job: FlightJob, aircraft: StockAircraft, on_event: EventCallback) -> Schedule:
    """Return its schedule, at the beginning."""
    kind = twin_jet_schedule.TwinJetSchedule if job.kind == "jet" else piston_schedule.PistonSchedule
    return kind(aircraft, job.slips, on_event)


def _fly_until(
    job: FlightJob,
    aircraft: StockAircraft,
    pace: RealTimePacer,
    on_event: Callable[[ScheduleEvent], None],
    until_s: float,
) -> None:
    """Fly for some seconds, or until the schedule is over (0)."""
    script = _make_schedule(
        job, aircraft, lambda sim_s, what, slip: on_event(ScheduleEvent(sim_s, what, slip))
    )
    until_s = until_s or MAX_FLIGHT_S
    while not script.finished and aircraft.sim_s < until_s:
        for _ in range(STEPS_A_FRAME):
            script.step()
            aircraft.step()
        pace.advance(1 / RATE_HZ)
