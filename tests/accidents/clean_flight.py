"""A recorded clean flight of the mock aeroplane, which can be played again with an overlay.

Takes: a scenario.  Gives: `CleanRecording`: the changes at each moment, the calls, and the shipped pack and trip sheet.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from mock_sim.run import Flight
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet, load_trip_sheet
from rules.signals.model import Value

RATE_HZ = 5.0
PACKS = {"sector": "twin_jet", "departure": "twin_jet", "circuit": "trainer"}
"""The shipped pack that judges a scenario."""


class Step(NamedTuple):
    """One moment: its time, the values that changed, and the calls."""

    sim_s: float
    changes: Mapping[str, Value]
    calls: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CleanRecording:
    """A whole clean flight, with its pack and trip sheet."""

    scenario: str
    pack: Pack
    trip: TripSheet
    signals: tuple[str, ...]
    steps: tuple[Step, ...]


@cache
def record(scenario: str) -> CleanRecording:
    """Fly a scenario without slips, with its noise.

    Args:
        scenario: One of `PACKS`.
    """
    folder = PACKS[scenario]
    trip = load_trip_sheet(SHIPPED_DIR / folder / "trip_demo.yaml")
    pack = load_pack(folder, trip=trip)
    steps: list[Step] = []
    known: dict[str, Value] = {}
    for moment in Flight(scenario, seed=1, rate_hz=RATE_HZ):
        changes = {name: value for name, value in moment.state.items() if known.get(name) != value}
        known.update(changes)
        steps.append(Step(moment.sim_s, changes, tuple(call.name for call in moment.calls)))
    return CleanRecording(scenario, pack, trip, tuple(known), tuple(steps))
