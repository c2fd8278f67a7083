"""Flies a stock aeroplane from the stand to the end of its schedule.

Takes: which aeroplane, the port, the pace, slips.  Gives: rows by the library's own UDP output, and events.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from mock_sim.stock import jet, piston
from mock_sim.stock.aircraft import STEPS_A_FRAME, Aircraft, Pace
from mock_sim.stock.columns import JET, PISTON, RATE_HZ
from mock_sim.stock.run import Event
from mock_sim.stock.script import Say, Script

LONGEST_S = 300.0
"""With every slip at once an aeroplane may never leave the ground."""


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be flown.

    `speed` is simulated seconds in a second, 0 for no pace; `seconds` ends the flight, 0: its schedule does, or `LONGEST_S`;
    `reset_s` puts the aeroplane back to the stand once at that time, 0: never.
    """

    kind: str
    port: int
    speed: float = 20.0
    slips: frozenset[str] = frozenset()
    seconds: float = 0.0
    reset_s: float = 0.0


def fly(order: Order, tell: Callable[[Event], None]) -> None:
    """Fly; returns when the schedule is over.

    Raises:
        ModuleNotFoundError: The library is not installed.
    """
    with tempfile.TemporaryDirectory(prefix="holdshort-stock-") as folder:
        aircraft = _aircraft(order, Path(folder))
        pace = Pace(order.speed)
        if order.reset_s:
            _go_on(order, aircraft, pace, tell, order.reset_s)
            aircraft.restart()
            tell(Event(aircraft.sim_s, "put back to the stand"))
        _go_on(order, aircraft, pace, tell, order.seconds)


def _aircraft(order: Order, folder: Path) -> Aircraft:
    """The aeroplane at the stand."""
    if order.kind == "jet":
        return Aircraft(jet.MODEL, jet.STAND, JET, order.port, folder)
    return Aircraft(piston.MODEL, piston.STAND, PISTON, order.port, folder)


def _script(order: Order, aircraft: Aircraft, say: Say) -> Script:
    """Its schedule, at the beginning."""
    kind = jet.JetScript if order.kind == "jet" else piston.PistonScript
    return kind(aircraft, order.slips, say)


def _go_on(
    order: Order, aircraft: Aircraft, pace: Pace, tell: Callable[[Event], None], until_s: float
) -> None:
    """Fly from the stand until so many seconds (0: until the schedule is over)."""
    script = _script(order, aircraft, lambda sim_s, what, slip: tell(Event(sim_s, what, slip)))
    until_s = until_s or LONGEST_S
    while not script.over and aircraft.sim_s < until_s:
        for _ in range(STEPS_A_FRAME):
            script.step()
            aircraft.step()
        pace.keep(1 / RATE_HZ)
