"""Tests of instruments: each pilot's indications, from the right bus, with the right setting."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from mock_sim.twin_jet.airports import FIELD_ELEVATION_FT
from tests.mock_sim.twin_jet.twin_jet_steps import number, put


def test_instruments_without_power_read_zero(dark: Halyard220) -> None:
    """In a dark aeroplane every altimeter reads zero and the transponder is off."""
    dark.run(0.5)
    assert {
        number(dark, f"altimeter.{seat}.altitude") for seat in ("captain", "first_officer", "standby")
    } == {0.0}
    assert dark.get("transponder.mode") == "off"


def test_the_standby_instruments_live_on_the_battery(dark: Halyard220) -> None:
    """On battery only, the standby altimeter reads and the captain's does not."""
    put(dark, {"electrical.battery.switch": "on", "altimeter.standby.setting": 1009.0})
    dark.run(1.0)
    assert number(dark, "altimeter.standby.altitude") == pytest.approx(FIELD_ELEVATION_FT, abs=1.0)
    assert number(dark, "altimeter.captain.altitude") == 0.0


def test_the_right_setting_reads_field_elevation(powered: Halyard220) -> None:
    """With QNH set an altimeter reads the field's elevation."""
    powered.set("altimeter.captain.setting", 1009.0)
    powered.run(0.5)
    assert number(powered, "altimeter.captain.altitude") == pytest.approx(FIELD_ELEVATION_FT, abs=1.0)


def test_ten_hectopascal_wrong_reads_275_ft_wrong(powered: Halyard220) -> None:
    """Settings of 1011 and 1001 differ by 275 ft (computed from ICAO Doc 7488)."""
    put(powered, {"altimeter.captain.setting": 1011.0, "altimeter.first_officer.setting": 1001.0})
    powered.run(0.5)
    difference = number(powered, "altimeter.captain.altitude") - number(
        powered, "altimeter.first_officer.altitude"
    )
    assert difference == pytest.approx(275.0, abs=1.0)


def test_standard_overrides_the_setting(powered: Halyard220) -> None:
    """On standard an altimeter reads pressure altitude whatever is set."""
    put(powered, {"altimeter.captain.setting": 990.0, "altimeter.captain.standard": "yes"})
    powered.run(0.5)
    assert number(powered, "altimeter.captain.altitude") == pytest.approx(
        number(powered, "flight.pressure_altitude")
    )


def test_alignment_takes_a_minute_of_standing(powered: Halyard220) -> None:
    """The unit is not aligned after half a minute, is aligned after little more than one, and then has the heading."""
    put(powered, {"inertial.left.mode": "nav", "inertial.right.mode": "align"})
    powered.run(30.0)
    assert powered.get("inertial.left.aligned") == "no"
    assert number(powered, "heading.captain") == 0.0
    powered.run(35.0)
    assert powered.get("inertial.left.aligned") == powered.get("inertial.right.aligned") == "yes"
    assert number(powered, "heading.captain") == number(powered, "flight.heading")


def test_alignment_is_lost_with_the_mode(powered: Halyard220) -> None:
    """Switched off, the alignment is lost and starts again."""
    powered.set("inertial.left.mode", "nav")
    powered.run(70.0)
    powered.set("inertial.left.mode", "off")
    powered.run(0.5)
    powered.set("inertial.left.mode", "nav")
    powered.run(30.0)
    assert powered.get("inertial.left.aligned") == "no"


def test_moving_restarts_the_alignment(running: Halyard220) -> None:
    """An aeroplane that moves does not align."""
    put(running, {"inertial.left.mode": "nav", "gear.chocks": "removed", "gear.parking_brake": "released"})
    put(running, {"engine.1.thrust_lever": 25.0, "engine.2.thrust_lever": 25.0})
    running.run(90.0)
    assert number(running, "flight.ground_speed") > 5.0
    assert running.get("inertial.left.aligned") == "no"


def test_a_tuned_receiver_identifies_its_station(powered: Halyard220) -> None:
    """The invented station is identified on its frequency only."""
    powered.set("navigation.frequency.1", 109.5)
    powered.run(0.1)
    assert powered.get("navigation.ident.1") == "PAV"
    powered.set("navigation.frequency.1", 110.4)
    powered.run(0.1)
    assert powered.get("navigation.ident.1") == ""


def test_the_clock_runs_on_over_midnight(dark: Halyard220) -> None:
    """The clock needs no power, follows the simulated time, and restarts at midnight."""
    dark.set("clock.utc", 86399.0)
    dark.run(3.0)
    assert number(dark, "clock.utc") == pytest.approx(2.0, abs=1e-6)
