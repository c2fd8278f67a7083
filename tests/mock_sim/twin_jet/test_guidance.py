"""Guidance: landing-system deviations, and what modes ask for, on a panel that is set by hand."""

from __future__ import annotations

from itertools import pairwise
from math import cos, radians, sin

import pytest

from mock_sim.common.panel import Panel
from mock_sim.twin_jet import Halyard220
from mock_sim.twin_jet.airports import ROUTE, RUNWAYS, SELMAR, Runway, bearing_and_distance
from mock_sim.twin_jet.guidance import Guidance, climb_angle_deg, ils_deviations
from tests.mock_sim.twin_jet.test_airports import out


def placed(ahead_nm: float, right_nm: float, height_ft: float, mhz: float = 110.30) -> Panel:
    """A panel that says the aeroplane is there, with receiver 1 on a frequency."""
    panel = Halyard220(noise=False).panel
    latitude, longitude = out(SELMAR, ahead_nm, right_nm)
    panel.numbers.update({"flight.latitude": latitude, "flight.longitude": longitude})
    altitude = SELMAR.elevation_ft + height_ft
    panel.numbers.update({"flight.altitude": altitude, "flight.ground_speed": 140.0, "flight.track": 268.0})
    panel.numbers["navigation.frequency.1"] = mhz
    return panel


@pytest.mark.parametrize(
    ("ahead", "right", "height", "localizer", "glide"),
    [
        (5.0, 0.0, 1642.0, 0.0, 0.0),  # 5.157 NM from where the path meets the ground, at 3 degrees
        (5.0, 0.3, 1642.0, 2.09, 0.0),  # 0.3 NM in 6.6 NM are 2.6 degrees
        (5.0, -0.3, 1642.0, -2.09, 0.0),
        (5.0, 0.0, 1832.0, 0.0, 1.0),  # a dot is 0.35 degrees
        (5.0, 0.0, 1450.0, 0.0, -1.0),
        (5.0, 4.0, 1642.0, 3.0, 0.0),  # full scale, off the beam of the path
    ],
)
def test_deviations_are_angles_in_dots(
    ahead: float, right: float, height: float, localizer: float, glide: float
) -> None:
    """Right and high are positive, in dots of 1.25 and 0.35 degrees."""
    seen = ils_deviations(placed(ahead, right, height))
    assert seen[0] == pytest.approx(localizer, abs=0.06)
    if right < 1.0:
        assert seen[1] == pytest.approx(glide, abs=0.08)


def test_nothing_comes_from_a_station_that_is_not_tuned_or_too_far() -> None:
    """Both deviations are missing on another frequency, and 30 NM out."""
    assert ils_deviations(placed(30.0, 0.0, 5000.0)) == (None, None)
    assert ils_deviations(placed(5.0, 0.3, 1500.0, mhz=108.0)) == (None, None)


@pytest.mark.parametrize(("right", "bank"), [(0.5, -25.0), (-0.5, 25.0), (0.0, 0.0)])
def test_the_localizer_mode_turns_towards_the_line(right: float, bank: float) -> None:
    """Right of the line the aeroplane banks left; on the line it flies straight."""
    assert Guidance(placed(8.0, right, 2500.0)).bank_deg("localizer") == pytest.approx(bank, abs=0.5)


def test_the_glide_path_mode_goes_down_three_degrees() -> None:
    """On the path it descends at 3 degrees, above it more steeply."""
    on, high = Guidance(placed(5.0, 0.0, 1642.0)), Guidance(placed(5.0, 0.0, 1800.0))
    assert on.climb_deg("glide_path") == pytest.approx(-3.0, abs=0.15)
    assert high.climb_deg("glide_path") < -3.5


@pytest.mark.parametrize(("mode", "low", "high"), [("climb", 0.5, 12.0), ("descent", -5.5, -0.4)])
@pytest.mark.parametrize("airspeed", [150.0, 250.0, 340.0])
def test_speed_by_pitch_never_goes_the_wrong_way(mode: str, low: float, high: float, airspeed: float) -> None:
    """A climb goes up and a descent goes down at any speed."""
    panel = placed(5.0, 0.0, 5000.0)
    panel.numbers["flight.airspeed"], panel.numbers["autoflight.speed"] = airspeed, 250.0
    panel.numbers["flight.pressure_altitude"] = 6000.0
    panel.numbers["autoflight.altitude"] = 20000.0 if mode == "climb" else 0.0
    assert low <= Guidance(panel).climb_deg(mode) <= high


def test_an_angle_is_height_over_distance() -> None:
    """Three degrees at 140 kt are some 740 ft/min."""
    assert climb_angle_deg(743.0, 140.0) == pytest.approx(3.0, abs=0.02)


def test_the_distance_to_go_follows_the_active_route() -> None:
    """The distance is 0 without an active route; then it follows the points of the route, and is direct after the last one."""
    panel = placed(5.0, 0.0, 1642.0)
    panel.words["flight.on_ground"] = "no"
    guidance = Guidance(panel)
    guidance.step(0.05)
    assert panel.numbers["management.distance_to_go"] == 0.0
    panel.words["management.route"] = "yes"
    guidance.step(0.05)
    assert panel.numbers["management.distance_to_go"] > 400.0  # back to the first point, and all the way
    guidance._waypoint = len(ROUTE) - 1  # as after it has flown there
    guidance.step(0.05)
    assert panel.numbers["management.distance_to_go"] == pytest.approx(5.0, abs=0.1)


@pytest.mark.parametrize("there", RUNWAYS)
def test_a_route_that_is_entered_on_the_ground_begins_there(there: Runway) -> None:
    """At either airport the whole route lies ahead, out or back: its legs and the way to its first point."""
    panel = placed(5.0, 0.0, 1642.0)
    panel.numbers["flight.latitude"], panel.numbers["flight.longitude"] = there.latitude, there.longitude
    panel.words["flight.on_ground"], panel.words["management.route"] = "yes", "yes"
    Guidance(panel).step(0.05)
    ends = [(end.latitude, end.longitude) for end in RUNWAYS]
    legs = sum(bearing_and_distance(*begin, end)[1] for begin, end in pairwise([ends[0], *ROUTE, ends[1]]))
    assert panel.numbers["management.distance_to_go"] == pytest.approx(legs, abs=0.2)
    assert abs(panel.numbers["management.cross_track"]) < 0.1


@pytest.mark.parametrize("right_nm", [4.0, -2.5])
def test_the_distance_from_the_way_is_that_from_the_present_leg(right_nm: float) -> None:
    """Right of the leg is positive, on a flat earth; without an active route it is 0."""
    panel = placed(5.0, 0.0, 1642.0)
    panel.words["flight.on_ground"] = "no"
    guidance = Guidance(panel)
    track_deg, _ = bearing_and_distance(*ROUTE[0], ROUTE[1])
    beside = radians(track_deg + 90.0)
    middle = [(one + other) / 2 for one, other in zip(ROUTE[0], ROUTE[1], strict=True)]
    panel.numbers["flight.latitude"] = middle[0] + right_nm * cos(beside) / 60.0
    panel.numbers["flight.longitude"] = middle[1] + right_nm * sin(beside) / 60.0 / cos(radians(middle[0]))
    guidance._waypoint = 1
    guidance.step(0.05)
    assert panel.numbers["management.cross_track"] == 0.0
    panel.words["management.route"] = "yes"
    guidance.step(0.05)
    assert panel.numbers["management.cross_track"] == pytest.approx(right_nm, abs=0.6)
