"""The APU starts over time, is available near full speed, cools down, and stops."""

from __future__ import annotations

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import number


def _until_available(aeroplane: Halyard220) -> float:
    """Seconds until the APU is available."""
    seconds = 0.0
    while aeroplane.get("apu.available") == "no":
        aeroplane.run(0.5)
        seconds += 0.5
        assert seconds < 90.0
    return seconds


def test_a_start_takes_its_time(powered: Halyard220) -> None:
    """Door, light-off, temperature peak and availability at 95 % or more follow each other."""
    powered.set("apu.switch", "start")
    powered.run(2.0)
    assert powered.get("apu.switch") == "on"
    assert powered.get("apu.inlet_door") == "closed"
    assert number(powered, "apu.speed") == 0.0
    powered.run(14.0)
    assert powered.get("apu.inlet_door") == "open"
    assert 20.0 < number(powered, "apu.speed") < 60.0
    peak = number(powered, "apu.egt")
    assert peak > 500.0
    seconds = 16.0 + _until_available(powered)
    assert 20.0 < seconds < 45.0
    assert number(powered, "apu.speed") >= 95.0
    powered.run(20.0)
    assert number(powered, "apu.egt") < peak


def test_on_without_start_only_opens_the_door(powered: Halyard220) -> None:
    """The on position alone does not start it."""
    powered.set("apu.switch", "on")
    powered.run(20.0)
    assert powered.get("apu.inlet_door") == "open"
    assert number(powered, "apu.speed") == 0.0


def test_no_start_without_the_battery(dark: Halyard220) -> None:
    """Without the battery nothing turns."""
    dark.set("apu.switch", "start")
    dark.run(30.0)
    assert number(dark, "apu.speed") == 0.0


def test_the_starter_loads_the_battery(dark: Halyard220) -> None:
    """On battery alone the start draws a heavy current and pulls the voltage down."""
    dark.set("electrical.battery.switch", "on")
    dark.run(3.0)
    rest = number(dark, "electrical.battery.voltage")
    dark.set("apu.switch", "start")
    dark.run(9.0)
    assert number(dark, "electrical.battery.current") < -150.0
    assert number(dark, "electrical.battery.voltage") < rest - 1.0


def test_off_cools_down_before_it_stops(air: Halyard220) -> None:
    """Switched off, the APU is not available at once, turns for its cool-down, then runs down and shuts its door."""
    air.set("apu.switch", "off")
    air.run(2.0)
    assert air.get("apu.available") == "no"
    assert air.get("electrical.generator.apu.online") == "no"
    assert number(air, "apu.speed") > 95.0
    air.run(65.0)
    assert number(air, "apu.speed") < 80.0
    air.run(60.0)
    assert number(air, "apu.speed") == 0.0
    assert air.get("apu.inlet_door") == "closed"


def test_the_apu_stays_available_when_switched_on_during_cool_down(air: Halyard220) -> None:
    """Switched on again during the cool-down, the APU becomes available without a start."""
    air.set("apu.switch", "off")
    air.run(10.0)
    air.set("apu.switch", "on")
    air.run(4.0)
    assert air.get("apu.available") == "yes"


def test_the_fire_handle_stops_it_at_once(air: Halyard220) -> None:
    """The fire handle stops the APU without a cool-down."""
    air.set("fire.apu.handle", "pulled")
    air.run(15.0)
    assert air.get("apu.available") == "no"
    assert number(air, "apu.speed") < 40.0
