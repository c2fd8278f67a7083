"""A recorded clean flight of the mock aeroplane, which can be played again with an overlay.

Takes: a scenario.  Gives: `CleanRecording`: the changes at each moment, the calls, and the shipped pack and trip sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from tests.recorded_flights import RecordedMoment, recorded_flight
from tests.shipped import shipped

RATE_HZ = 5.0
PACKS = {"sector": "twin_jet", "departure": "twin_jet", "circuit": "trainer"}
"""The shipped pack that judges a scenario."""


@dataclass(frozen=True, slots=True)
class CleanRecording:
    """A whole clean flight, with its pack and trip sheet."""

    scenario: str
    pack: Pack
    trip: TripSheet
    signals: tuple[str, ...]
    steps: Sequence[RecordedMoment]


@cache
def record(scenario: str) -> CleanRecording:
    """Fly a scenario without slips, with its noise.

    Args:
        scenario: One of `PACKS`.
    """
    steps = recorded_flight(scenario, seed=1, rate_hz=RATE_HZ)
    signals = dict.fromkeys(name for step in steps for name in step.changes)
    return CleanRecording(scenario, *shipped(PACKS[scenario]), tuple(signals), steps)
