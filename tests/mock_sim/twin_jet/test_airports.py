"""Places: the two airports, the slope between them, and where a runway is from here."""

from __future__ import annotations

from math import cos, radians, sin

import pytest

from mock_sim.twin_jet.airports import (
    AVERIL,
    RUNWAYS,
    SELMAR,
    Runway,
    bearing_and_distance,
    elevation_ft,
    from_runway,
)


def out(runway: Runway, ahead_nm: float, right_nm: float) -> tuple[float, float]:
    """The place so far before a threshold and so far right of its line, by geometry of the test's own."""
    heading = radians(runway.heading_deg)
    north = -ahead_nm * cos(heading) - right_nm * sin(heading)
    east = -ahead_nm * sin(heading) + right_nm * cos(heading)
    return runway.latitude + north / 60.0, runway.longitude + east / 60.0 / cos(radians(runway.latitude))


@pytest.mark.parametrize("runway", RUNWAYS, ids=lambda runway: runway.ident)
@pytest.mark.parametrize(("ahead", "right"), [(10.0, 0.0), (5.0, 1.0), (5.0, -1.0), (-1.0, 0.0)])
def test_a_place_before_the_runway_is_found_again(runway: Runway, ahead: float, right: float) -> None:
    """The distances before the threshold and off the centre line are those given, within 2 %."""
    found = from_runway(runway, *out(runway, ahead, right))
    assert found == pytest.approx((ahead, right), abs=0.02 * abs(ahead) + 0.005)


def test_the_ground_is_level_around_each_field_and_slopes_between() -> None:
    """Both elevations hold near their airport, and halfway it is between them."""
    assert elevation_ft(AVERIL.latitude + 0.2, AVERIL.longitude) == 210.0
    assert elevation_ft(SELMAR.latitude - 0.2, SELMAR.longitude) == 640.0
    assert 210.0 < elevation_ft(45.0, -20.9) < 640.0


@pytest.mark.parametrize(("place", "degrees"), [((1.0, 0.0), 0.0), ((0.0, 1.0), 90.0), ((-1.0, 0.0), 180.0)])
def test_bearings_go_round_the_compass(place: tuple[float, float], degrees: float) -> None:
    """North, east and south of here are 0, 90 and 180 degrees, sixty miles for a degree."""
    assert bearing_and_distance(0.0, 0.0, place) == pytest.approx((degrees, 60.0))
