"""Suction and gyros, altimeter, airspeed and what blocks it, headings, lights."""

from __future__ import annotations

import pytest

from mock_sim.piston import Halyard12
from tests.mock_sim.piston.piston_steps import FREE, number, put


def _off(one: float, other: float) -> float:
    """How far two headings are apart."""
    return abs((one - other + 180.0) % 360.0 - 180.0)


def test_suction_comes_with_engine_speed(running: Halyard12) -> None:
    """In range at run-up, lower at idle, none and a light when the pump has failed."""
    put(running, {"engine.1.throttle": 57.0}).run(8.0)
    high = number(running, "vacuum.suction")
    assert 4.5 < high < 5.5
    assert running.get("alert.vacuum") == "off"
    put(running, {"engine.1.throttle": 0.0}).run(8.0)
    assert number(running, "vacuum.suction") < high
    put(running, {"fault.vacuum": "failed"}).run(8.0)
    assert number(running, "vacuum.suction") < 0.1
    assert running.get("alert.vacuum") == "on"


def test_the_attitude_indicator_needs_suction(parked: Halyard12, running: Halyard12) -> None:
    """Without suction the indicator leans; with the engine running it shows level."""
    parked.run(1.0)
    assert number(parked, "attitude.bank") > 8.0
    assert number(running, "attitude.bank") == pytest.approx(0.0, abs=0.5)


def test_the_altimeter_shows_the_field_with_the_right_setting(parked: Halyard12) -> None:
    """With QNH it reads field elevation, with 10 hPa less about 270 ft less, and it needs no power."""
    put(parked, {"parking.static_cover": "removed"}).run(0.5)
    put(parked, {"altimeter.captain.setting": 1017.0}).run(0.5)
    assert number(parked, "altimeter.captain.altitude") == pytest.approx(380.0, abs=5.0)
    put(parked, {"altimeter.captain.setting": 1007.0}).run(0.5)
    assert number(parked, "altimeter.captain.altitude") == pytest.approx(380.0 - 273.0, abs=15.0)
    put(parked, {"altimeter.captain.setting": 1017.0, "static.alternate": "open"}).run(0.5)
    assert number(parked, "altimeter.captain.altitude") > 400.0


def test_the_heading_indicator_drifts_and_can_be_set(running: Halyard12) -> None:
    """Parked, the indicator shows any heading; set to the compass it agrees, and in 15 min it drifts some degrees."""
    compass = number(running, "heading.standby")
    assert _off(number(running, "heading.captain"), compass) > 20.0
    put(running, {"heading.align": "yes"}).run(0.2)
    assert _off(number(running, "heading.captain"), compass) < 0.5
    assert running.get("heading.align") == "no"
    running.run(900.0, 0.5)
    assert 2.0 < _off(number(running, "heading.captain"), compass) < 8.0


def test_a_cover_blocks_the_airspeed(running: Halyard12) -> None:
    """With the pitot cover on the dial stays at zero in flight; with it off it reads the airspeed."""
    put(running, {**FREE, "parking.pitot_cover": "on"})
    running.motion.place((0.0, 0.0), 312.0, 800.0, 40.0)
    running.run(1.0)
    assert number(running, "flight.airspeed") > 60.0
    assert number(running, "airspeed.captain") == 0.0
    put(running, {"parking.pitot_cover": "removed"}).run(0.5)
    assert number(running, "airspeed.captain") == pytest.approx(number(running, "flight.airspeed"), abs=0.5)


@pytest.mark.parametrize(("heat", "reads"), [("on", True), ("off", False)])
def test_ice_blocks_an_unheated_pitot_tube(running: Halyard12, heat: str, reads: bool) -> None:
    """In freezing cloud the airspeed dies away in minutes unless the pitot tube is heated."""
    put(
        running,
        {**FREE, "flight.outside_air_temperature": 0.0, "weather.visible_moisture": "yes", "ice.pitot": heat},
    )
    put(running, {"engine.1.throttle": 90.0, "pilot.task": "downwind"})
    running.motion.place((3000.0, -1500.0), 132.0, 1000.0, 42.0)
    for _ in range(4):  # back and forth, so that it stays on the leg for long enough
        running.run(45.0)
        running.motion.place((3000.0, -1500.0), 132.0, 1000.0, 42.0)
    running.run(1.0)
    assert number(running, "flight.airspeed") > 60.0
    assert (number(running, "airspeed.captain") > 60.0) is reads


def test_the_light_test_lights_every_warning(running: Halyard12) -> None:
    """While the test button is pressed, the oil, vacuum, fuel and voltage lights are on; afterwards they are off."""
    lights = (
        "alert.oil_pressure",
        "alert.vacuum",
        "alert.fuel.left",
        "alert.fuel.right",
        "electrical.low_voltage",
    )
    put(running, {"alert.test": "on"}).run(0.3)
    assert {running.get(light) for light in lights} == {"on"}
    put(running, {"alert.test": "off"}).run(0.3)
    assert {running.get(light) for light in lights} == {"off"}
