"""Values that are written relative to the day."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from rules.signals.model import Value
from tests.accidents.accident_case import Moment, Overlay
from tests.accidents.day_values import DayValues, RunwayPlace
from tests.shipped import shipped

BEGINS = Moment("entry taxi", 0.0)


def day(**changes: Value) -> DayValues:
    """The sheet of the demonstration, with other values."""
    pack, sheet = shipped("twin_jet")
    return DayValues(pack, {**sheet.values, **{f"trip.{name}": value for name, value in changes.items()}})


@pytest.mark.parametrize(
    ("written", "means"),
    [
        ("trip.landing_qnh", 993.0),
        ("trip.landing_qnh + 1", 994.0),
        ("trip.extra_fuel - 110", 890.0),
        ("-0.5 * trip.extra_fuel + 55", -445.0),
        ("trip.landing_runway", "27"),
        ("on", "on"),
        (12.5, 12.5),
    ],
)
def test_a_value_is_that_of_the_days_sheet(written: Value, means: Value) -> None:
    """A name means its value, with a factor before it and a number after it; a word and a number mean themselves."""
    assert day(landing_qnh=993.0, extra_fuel=1000.0).value("x", written, {}) == means


def test_an_angle_stays_on_the_circle() -> None:
    """A course beyond north begins again at 0, and a length does not."""
    values = day(push_heading=350.0)
    assert values.value("flight.track", "trip.push_heading + 20", {}) == 10.0
    assert values.value("flight.altitude", "trip.push_heading + 20", {}) == 370.0


def test_a_new_value_sees_those_before_it() -> None:
    """The VREF of a sheet with less flap is that of the new flap, and later values see the new sheet."""
    values = day(vref=130.0)
    before = values.number("trip.vref", "figure.minimum_vref", {})
    changed = values.change_trip({"landing_flap": 20.0, "vref": "figure.minimum_vref", "v2": "trip.vref"}, {})
    assert changed["trip.landing_flap"] == 20.0
    assert float(changed["trip.vref"]) > before + 3.0
    assert changed["trip.v2"] == changed["trip.vref"] == values.value("speeds.vref", "trip.vref", {})


@pytest.mark.parametrize(
    ("place", "north_m", "east_m"),
    [
        (RunwayPlace(along_m=1000.0), 0.0, 1000.0),
        (RunwayPlace(right_m=1000.0), -1000.0, 0.0),
        (RunwayPlace(runway="landing", right_m=1000.0), 0.0, 1000.0),
    ],
)
def test_a_place_is_along_and_across_the_runway(place: RunwayPlace, north_m: float, east_m: float) -> None:
    """Runway 09: along is east, right is south; runway 36 of the landing: right is east.  A minute of latitude is 1 852 m."""
    equator: dict[str, Value] = {
        f"{before}runway_{axis}": 0.0 for before in ("", "landing_") for axis in ("latitude", "longitude")
    }
    values = day(**{**equator, "runway_heading": 90.0, "landing_runway_heading": 0.0})
    assert values.distance_deg(place) == pytest.approx((north_m / 111120.0, east_m / 111120.0), abs=1e-12)
    assert values.position_deg(place) == values.distance_deg(place)


@pytest.mark.parametrize(
    "written", ["trip.qnh+1", "trip.qnh * 2", "2 * trip.qnh * 3", "figure.", "trip.qnh + x"]
)
def test_a_value_that_is_written_wrong_is_refused(written: str) -> None:
    """It would else count as a word."""
    with pytest.raises(ValidationError, match=r"expected such as 'trip\.qnh'"):
        Overlay(begins=BEGINS, put={"altimeter.standby.setting": written})


def test_only_a_number_can_be_added() -> None:
    """A word cannot be added to a signal."""
    with pytest.raises(ValidationError, match="expected a number"):
        Overlay(begins=BEGINS, plus={"flight.airspeed": "fast"})


def test_a_name_that_the_sheet_lacks_is_told() -> None:
    """The signal, the value as it is written and the missing name are in the message."""
    with pytest.raises(
        ValueError, match=r"speeds\.vref: trip\.vreff \+ 1: there is no trip\.vreff on this day"
    ):
        day().value("speeds.vref", "trip.vreff + 1", {})
