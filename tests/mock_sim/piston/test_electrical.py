"""Battery, alternator, bus, low-voltage light, ammeter, avionics, external power."""

from __future__ import annotations

import pytest

from mock_sim.piston import Halyard12
from tests.mock_sim.piston.piston_steps import number, put


def test_on_the_battery_the_ammeter_discharges_and_the_light_warns(parked: Halyard12) -> None:
    """Master on, engine off: the bus reads the battery, the ammeter is negative, the low-voltage light is on."""
    put(parked, {"electrical.battery.switch": "on", "electrical.alternator.switch": "on"}).run(3.0)
    assert 23.0 < number(parked, "electrical.bus.voltage") < 25.0
    assert number(parked, "electrical.ammeter") < 0.0
    assert parked.get("electrical.low_voltage") == "on"
    assert parked.get("electrical.alternator.online") == "no"


def test_the_alternator_charges(running: Halyard12) -> None:
    """With the engine running the bus is near 28 V, the ammeter charges, the light is out."""
    assert number(running, "electrical.bus.voltage") == pytest.approx(28.1, abs=0.2)
    assert number(running, "electrical.ammeter") > 0.0
    assert number(running, "electrical.load") > 0.0
    assert running.get("electrical.low_voltage") == "off"


@pytest.mark.parametrize(
    "broken",
    [{"electrical.alternator.switch": "off"}, {"fault.alternator": "failed"}, {"engine.1.mixture": 0.0}],
)
def test_without_the_alternator_the_light_comes_on(
    running: Halyard12, broken: dict[str, str | float]
) -> None:
    """Switched off, failed, or with the engine stopped, the battery alone carries the bus."""
    put(running, broken).run(8.0)
    assert running.get("electrical.alternator.online") == "no"
    assert number(running, "electrical.ammeter") < 0.0
    assert running.get("electrical.low_voltage") == "on"


def test_loads_add_up(running: Halyard12) -> None:
    """Each consumer that is switched on increases the current of the alternator."""
    before = number(running, "electrical.load")
    put(running, {"electrical.avionics.1": "on", "lights.landing.left": "on", "ice.pitot": "on"}).run(1.0)
    assert number(running, "electrical.load") == pytest.approx(before + 6.0 + 6.0 + 7.0, abs=0.5)


def test_a_battery_runs_empty(parked: Halyard12) -> None:
    """A nearly flat battery with all consumers on is empty after some minutes, and its bus has no power."""
    put(
        parked,
        {"electrical.battery.switch": "on", "electrical.avionics.1": "on", "lights.landing.left": "on"},
    )
    parked.run(4.0)
    assert parked.get("lights.landing.left") == "on"
    parked.electrical._charge = 0.06
    parked.run(600.0, 0.5)
    assert number(parked, "electrical.battery.voltage") < 15.0
    assert parked.get("lights.landing.left") == "off"


def test_external_power_carries_the_bus(parked: Halyard12) -> None:
    """With external power the bus is live without the battery, and charges it with it."""
    put(parked, {"electrical.external.switch": "on"}).run(1.0)
    assert number(parked, "electrical.bus.voltage") > 27.0
    put(parked, {"electrical.battery.switch": "on"}).run(1.0)
    assert number(parked, "electrical.ammeter") > 0.0


def test_avionics_hang_on_their_switches(running: Halyard12) -> None:
    """Transponder, receivers and satellites work only with their avionics bus."""
    running.set("transponder.mode", "altitude")
    running.run(1.0)
    assert running.get("transponder.mode") == "off"
    put(running, {"electrical.avionics.1": "on", "electrical.avionics.2": "on"}).run(40.0)
    assert running.get("transponder.mode") == "altitude"
    assert running.get("navigation.satellite") == "yes"
    assert running.get("navigation.ident.1") == "HMD"
    running.set("electrical.avionics.1", "off")
    running.run(1.0)
    assert (running.get("navigation.satellite"), running.get("navigation.ident.1")) == ("no", "")


@pytest.mark.parametrize("light", ["beacon", "strobe", "navigation", "taxi", "landing.left"])
def test_lights_need_power(parked: Halyard12, light: str) -> None:
    """A light that is switched on shines only with the master switch on."""
    parked.set(f"lights.{light}", "on")
    parked.run(0.5)
    assert parked.get(f"lights.{light}") == "off"
    parked.set("electrical.battery.switch", "on")
    parked.run(0.5)
    assert parked.get(f"lights.{light}") == "on"
