"""Clearances for the strip that the sheet describes: findings without one, and missing data."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import cache

import pytest

from mock_sim.run import Flight, FlightMoment
from rules.judge.judge import Judge
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from tests.checklists.read_lists import JudgedState
from tests.shipped import shipped

WATCH = "watch.runway_without_clearance"
CLEARANCES = ("lineup_clearance", "takeoff_clearance")
HALF_WAY = {"flight.latitude": 46.8127, "flight.longitude": -21.4489}
"""On the centre line of runway 14, 700 m from the line-up point."""


@cache
def departure() -> tuple[FlightMoment, ...]:
    """A departure of the mock crew."""
    return tuple(Flight("departure", seed=3, rate_hz=1.0, noise=False))


def found(
    *,
    calls: Collection[str] | None = None,
    trip_without: Iterable[str] = (),
    place: Mapping[str, Value] | None = None,
    everywhere: bool = False,
) -> set[str]:
    """Items found in a departure without clearances for the runway.

    Args:
        calls: Calls that are entered; all but the clearances if not given.
        trip_without: Values that the sheet has not.
        place: Place of the aeroplane while it taxies faster than 10 kt.
        everywhere: True if it is at this place from the first moment on.
    """
    pack, sheet = shipped("twin_jet")
    values = {name: value for name, value in sheet.values.items() if name not in set(trip_without)}
    flown = JudgedState(Judge(pack, TripSheet(sheet.title, values, sheet.inoperative)))
    for moment in departure():
        fast = 10.0 < float(str(moment.state["flight.ground_speed"])) < 20.0
        moved = place if place and (fast or everywhere) else {}
        entered = [
            c.name for c in moment.calls if c.name not in CLEARANCES and (calls is None or c.name in calls)
        ]
        flown.send(moment.sim_s, {**moment.state, **moved}, entered)
        if place and not everywhere and "before_takeoff_checklist" in entered:
            break  # before it comes to the line-up point
    return {finding.item for finding in flown.judge.findings}


@pytest.mark.parametrize("missing", [(), ("trip.variation",), ("trip.runway_length",)])
def test_at_the_line_up_point_it_is_told_without_variation_and_length(missing: tuple[str, ...]) -> None:
    """The point alone is on the runway whatever its direction and length."""
    assert WATCH in found(trip_without=missing)


@pytest.mark.parametrize(
    ("missing", "told"), [((), True), (("trip.variation",), False), (("trip.runway_length",), False)]
)
def test_half_way_along_the_runway(missing: tuple[str, ...], *, told: bool) -> None:
    """Where the sheet does not say where the runway lies, an entry half way along it cannot be verified."""
    assert (WATCH in found(trip_without=missing, place=HALF_WAY)) is told


def test_where_no_call_is_ever_entered_nothing_is_told() -> None:
    """Whether the clearance came is not known."""
    assert WATCH not in found(calls=())


def test_a_flight_that_begins_on_the_runway_did_not_enter_it() -> None:
    """A simulator can put the aeroplane there."""
    assert WATCH not in found(place=HALF_WAY, everywhere=True)
