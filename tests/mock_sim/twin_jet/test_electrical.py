"""Tests of electrical power: the source of each bus, the battery, and everything that needs power."""

from __future__ import annotations

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import number, put, start

AC = ("electrical.bus.ac.1", "electrical.bus.ac.2")


def test_dark_aeroplane_has_no_bus(dark: Halyard220) -> None:
    """Without any source no bus is powered, and the battery has its open voltage."""
    dark.run(5.0)
    assert {dark.get(bus) for bus in (*AC, "electrical.bus.dc.1", "electrical.bus.essential")} == {"off"}
    assert 24.0 < number(dark, "electrical.battery.voltage") < 26.0
    assert number(dark, "electrical.battery.current") == 0.0


def test_battery_alone_feeds_only_the_essential_bus(dark: Halyard220) -> None:
    """With only the battery on, the essential bus has power, AC and DC do not, and the battery runs down."""
    dark.set("electrical.battery.switch", "on")
    dark.run(5.0)
    early = number(dark, "electrical.battery.voltage")
    assert dark.get("electrical.bus.essential") == "powered"
    assert {dark.get(bus) for bus in (*AC, "electrical.bus.dc.1", "electrical.bus.dc.2")} == {"off"}
    assert number(dark, "electrical.battery.current") < 0.0
    dark.run(300.0, 0.5)
    assert number(dark, "electrical.battery.voltage") < early


def test_an_empty_battery_goes_dead(dark: Halyard220) -> None:
    """A battery that is left on for long powers no bus."""
    dark.electrical._charge = 0.06
    dark.set("electrical.battery.switch", "on")
    dark.run(5.0)
    assert dark.get("electrical.bus.essential") == "powered"
    dark.run(600.0, 0.5)
    assert number(dark, "electrical.battery.voltage") < 16.5
    assert dark.get("electrical.bus.essential") == "off"


def test_essential_selector_off_kills_the_essential_bus(powered: Halyard220) -> None:
    """The essential bus follows its selector."""
    powered.set("electrical.essential_power", "off")
    powered.run(0.5)
    assert powered.get("electrical.bus.essential") == "off"
    powered.set("electrical.essential_power", "battery")
    powered.run(0.5)
    assert powered.get("electrical.bus.essential") == "powered"


def test_external_power_feeds_all_and_charges(powered: Halyard220) -> None:
    """External power feeds both sides, and the battery charges at a higher voltage."""
    powered.run(10.0)
    assert {powered.get(bus) for bus in AC} == {"powered"}
    assert number(powered, "electrical.battery.current") > 0.0
    assert number(powered, "electrical.battery.voltage") > 27.0


def test_external_switch_needs_a_ground_unit(powered: Halyard220) -> None:
    """When the ground unit is removed the switch goes off, and does not come on by itself."""
    powered.set("electrical.external.available", "no")
    powered.run(0.5)
    assert powered.get("electrical.external.switch") == "off"
    assert powered.get("electrical.bus.ac.1") == "off"
    powered.set("electrical.external.available", "yes")
    powered.run(1.0)
    assert powered.get("electrical.external.switch") == "off"


def test_apu_generator_takes_over_from_external(air: Halyard220) -> None:
    """The APU generator on line takes the buses, and external power falls off."""
    assert air.get("electrical.generator.apu.online") == "yes"
    assert air.get("electrical.external.switch") == "off"
    assert {air.get(bus) for bus in AC} == {"powered"}


def test_apu_generator_waits_for_the_apu(powered: Halyard220) -> None:
    """The switch alone does not bring the APU generator on line, and external power stays."""
    powered.set("electrical.generator.apu.switch", "on")
    powered.run(2.0)
    assert powered.get("electrical.generator.apu.online") == "no"
    assert powered.get("electrical.external.switch") == "on"


def test_engine_generator_needs_switch_and_speed(air: Halyard220) -> None:
    """An engine generator comes on line only with its switch on and its engine near idle, after a moment."""
    air.set("electrical.generator.1.switch", "on")
    air.run(3.0)
    assert air.get("electrical.generator.1.online") == "no"
    start(air, "1", seconds=50.0)
    assert air.get("electrical.generator.1.online") == "yes"
    air.set("electrical.generator.1.switch", "off")
    air.run(0.2)
    assert air.get("electrical.generator.1.online") == "no"
    air.set("electrical.generator.1.switch", "on")
    air.run(1.0)
    assert air.get("electrical.generator.1.online") == "no"
    air.run(1.0)
    assert air.get("electrical.generator.1.online") == "yes"


def test_both_engine_generators_put_the_apu_generator_off_line(running: Halyard220) -> None:
    """With both engine generators on line nothing else feeds a bus."""
    assert (
        running.get("electrical.generator.1.online") == running.get("electrical.generator.2.online") == "yes"
    )
    assert running.get("electrical.generator.apu.online") == "no"


def test_one_generator_feeds_both_sides_through_the_tie(running: Halyard220) -> None:
    """A tripped generator loses its bus only where the tie is open."""
    running.set("fault.generator.1", "trip")
    running.run(0.5)
    assert running.get("electrical.generator.1.online") == "no"
    assert running.get("electrical.bus.ac.1") == "powered"
    running.set("electrical.bus.tie", "open")
    running.run(0.5)
    assert running.get("electrical.bus.ac.1") == "off"
    assert running.get("electrical.bus.ac.2") == "powered"


def test_a_coupling_stays_released_while_its_engine_turns(running: Halyard220) -> None:
    """A released coupling takes its generator off line and cannot be engaged with a turning engine."""
    running.set("electrical.coupling.2", "released")
    running.run(0.5)
    assert running.get("electrical.generator.2.online") == "no"
    running.set("electrical.coupling.2", "engaged")
    running.run(3.0)
    assert running.get("electrical.coupling.2") == "released"


def test_the_fire_handle_takes_the_generator_off(running: Halyard220) -> None:
    """Pulling a fire handle takes that engine's generator off line."""
    running.set("fire.engine.2.handle", "pulled")
    running.run(0.5)
    assert running.get("electrical.generator.2.online") == "no"


def test_galley_needs_both_buses(powered: Halyard220) -> None:
    """The galley has power only with both AC buses."""
    put(powered, {"electrical.galley": "on"})
    powered.run(0.5)
    assert powered.get("electrical.galley") == "on"
    powered.set("electrical.external.switch", "off")
    powered.run(0.5)
    assert powered.get("electrical.galley") == "off"
