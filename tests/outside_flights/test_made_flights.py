"""Phases of made profiles, by altitude, ground speed and vertical speed alone: what is a climb, a cruise, a descent."""

from __future__ import annotations

import numpy as np
import pytest

from rules.signals.model import Value
from tests.outside_flights.comparison import Judged, judge_flight
from tests.outside_flights.samples import Trajectory

FIRST_FT = 500.0


def flown(*legs: tuple[float, float], speed_kt: float = 280.0, planned_ft: float | None = None) -> Judged:
    """Judge a flight of legs: seconds, and vertical speed in ft/min; it begins in the air at 500 ft."""
    ends_s = np.cumsum([0.0, *(lasts_s for lasts_s, _ in legs)])
    heights_ft = FIRST_FT + np.cumsum([0.0, *(lasts_s * rate / 60.0 for lasts_s, rate in legs)])
    times_s = np.arange(0.0, ends_s[-1])
    altitude = np.interp(times_s, ends_s, heights_ft)
    columns = {
        "altitude": altitude,
        "groundspeed": np.full(len(times_s), speed_kt),
        "vertical_rate": np.gradient(altitude) * 60.0,
    }
    trip: dict[str, Value] = {} if planned_ft is None else {"trip.cruise_altitude": planned_ft}
    judged = judge_flight(Trajectory("made", times_s, columns), trip=trip)
    assert judged.notices == []
    assert judged.findings == []
    return judged


UP = (780.0, 1800.0)
"""To 23 900 ft."""
LEVEL, DOWN = (300.0, 0.0), (540.0, -1800.0)
"""Down to 7 700 ft."""


def test_a_level_of_two_minutes_is_the_cruise() -> None:
    """Without a planned level, the height above the field and the time tell it."""
    judged = flown(UP, (200.0, 0.0))
    assert judged.phases[780 + 110] == "high_climb"
    assert judged.phases[-1] == "cruise"


def test_below_the_planned_level_it_waits_four_minutes_and_at_it_twenty_seconds() -> None:
    """The sheet says 33 000 ft: three minutes at 23 900 ft are a wait, four and a half are another level."""
    waits = flown(UP, (180.0, 0.0), (305.0, 1800.0), (30.0, 0.0), planned_ft=33_000.0)
    assert waits.phases[780 + 170] == "high_climb"
    assert waits.phases[-1] == "cruise"
    assert flown(UP, (270.0, 0.0), planned_ft=33_000.0).phases[-1] == "cruise"


@pytest.mark.parametrize("legs", [((100.0, 0.0), (120.0, 1800.0)), ((600.0, 240.0),)])
def test_a_short_level_or_a_slow_climb_is_no_cruise(legs: tuple[tuple[float, float], ...]) -> None:
    """Who waits for a clearance, or is heavy and slow, still climbs."""
    assert flown(UP, *legs).phases[-1] == "high_climb"


def test_a_level_near_the_field_is_no_cruise() -> None:
    """At 6 500 ft a jet waits for its clearance."""
    assert flown((200.0, 1800.0), (600.0, 0.0)).phases[-1] == "climb"


@pytest.mark.parametrize("rate", [-2500.0, -1000.0, -400.0])
def test_a_descent_is_known_after_a_thousand_feet_at_most(rate: float) -> None:
    """A steep one sooner; a slow one has no other sign than the height that is lost."""
    lasts_s = 1100.0 / -rate * 60.0
    assert flown(UP, LEVEL, (lasts_s, rate)).phases[-1] == "descent"


def test_a_correction_of_height_is_no_descent() -> None:
    """Half a level is lost, slowly."""
    assert flown(UP, LEVEL, (100.0, -300.0), LEVEL).phases[-1] == "cruise"


def test_a_climb_after_a_descent_is_one_at_any_height_and_so_is_the_next_descent() -> None:
    """At 7 700 ft it climbs to 11 700 ft, sinks again, climbs again and cruises: no gate between needs anything."""
    up, down = (120.0, 2000.0), (120.0, -2000.0)
    judged = flown(UP, LEVEL, DOWN, (240.0, 0.0), up, down, (60.0, 0.0), up, up, LEVEL)
    assert judged.entered[-7:] == [
        "high_climb", "cruise", "descent", "climb_again", "descent", "climb_again", "cruise",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("lasts_s", "rate", "phase"),
    [(240.0, 500.0, "cruise"), (260.0, 900.0, "cruise"), (240.0, 1500.0, "climb_again")],
)
def test_a_change_of_the_cruise_level_is_no_climb_and_a_long_climb_is(
    lasts_s: float, rate: float, phase: str
) -> None:
    """2 000 or 3 900 ft soon after the first level are a step; 6 000 ft are none."""
    assert flown(UP, (140.0, 0.0), (lasts_s, rate)).phases[-1] == phase


def test_a_step_of_less_than_a_level_in_the_descent_is_no_climb() -> None:
    """An advisory of the collision avoidance takes 800 ft; then it sinks on."""
    judged = flown(UP, LEVEL, DOWN, (32.0, 1500.0), (60.0, 0.0), (60.0, -1500.0))
    assert "climb_again" not in judged.entered
    assert judged.phases[-1] == "descent"


def test_a_flight_that_is_joined_in_the_climb_is_in_the_air_at_once() -> None:
    """Its vertical speed is none of a runway."""
    judged = flown(UP)
    assert judged.phases[12] in ("initial_climb", "climb")


def test_level_and_fast_for_long_is_in_the_air() -> None:
    """No runway is as long as 90 s at 110 kt, and a slope of a runway is no climb."""
    judged = flown((200.0, 0.0), speed_kt=110.0)
    assert judged.phases[80] not in ("initial_climb", "climb")
    assert judged.phases[-1] == "initial_climb"
