"""Engines: the timeline of a start that goes well and of each that does not, spooling, reverse, and shutdown."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import number, put, start


def test_a_normal_start_goes_step_by_step(air: Halyard220) -> None:
    """Valve, N2, oil pressure, N1, fuel, light-off, cut-out and idle follow in this order, each within its time."""
    air.set("engine.1.start_switch", "start")
    first: dict[str, float] = {}
    now = 0.0
    while now < 60.0:
        air.run(0.2)
        now += 0.2
        steps = {
            "valve": air.get("engine.1.start_valve") == "open",
            "oil": number(air, "engine.1.oil_pressure") > 3.0,
            "n1": number(air, "engine.1.n1") > 1.0,
            "n2": number(air, "engine.1.n2") >= 25.0,
            "spark": air.get("engine.1.ignition") == "on",
            "light": number(air, "engine.1.egt") > 60.0,
            "cut_out": "light" in first and air.get("engine.1.start_valve") == "closed",
            "idle": number(air, "engine.1.n2") > 59.0,
        }
        if steps["n2"]:
            air.set("engine.1.fuel_lever", "open")
        for step, so in steps.items():
            if so:
                first.setdefault(step, now)
    assert list(first) == ["valve", "oil", "n1", "n2", "spark", "light", "cut_out", "idle"]
    assert 8.0 < first["n2"] < 14.0
    assert 3.0 < first["light"] - first["spark"] < 6.0
    assert 25.0 < first["idle"] < 45.0


def test_the_starter_alone_turns_n2_at_its_rate(air: Halyard220) -> None:
    """N2 rises 2 to 3 % a second on the starter."""
    air.set("engine.2.start_switch", "start")
    air.run(2.0)
    before = number(air, "engine.2.n2")
    air.run(5.0)
    assert 2.0 < (number(air, "engine.2.n2") - before) / 5.0 < 3.1


def test_idle_is_stable(running: Halyard220) -> None:
    """At idle N2 is 60, N1 22, exhaust near 480 degrees, flow 300 kg/h, oil pressure up, and all stays."""
    running.run(30.0)
    for k in "12":
        assert number(running, f"engine.{k}.n2") == pytest.approx(60.0, abs=0.5)
        assert number(running, f"engine.{k}.n1") == pytest.approx(22.0, abs=0.3)
        assert number(running, f"engine.{k}.egt") == pytest.approx(480.0, abs=15.0)
        assert number(running, f"engine.{k}.fuel_flow") == pytest.approx(300.0, abs=10.0)
        assert number(running, f"engine.{k}.oil_pressure") > 40.0
        assert running.get(f"engine.{k}.low_oil_pressure") == "off"
        assert running.get(f"engine.{k}.running") == "yes"


def test_a_normal_start_peaks_between_idle_and_limit(air: Halyard220) -> None:
    """Exhaust temperature of a good start rises above idle and stays well under 740 degrees."""
    assert 550.0 < start(air, "1") < 680.0
    assert number(air, "engine.1.egt") < 500.0
    assert air.get("engine.1.start_switch") == "off"


def test_a_hot_start_exceeds_the_limit_soon(air: Halyard220) -> None:
    """A hot start passes 740 degrees within seconds of light-off, and cutting the fuel brings it down."""
    air.set("fault.engine.1", "hot")
    assert start(air, "1", seconds=20.0) > 740.0
    air.set("engine.1.fuel_lever", "closed")
    air.run(2.0)
    hot = number(air, "engine.1.egt")
    air.run(20.0)
    assert number(air, "engine.1.egt") < hot - 150.0
    assert number(air, "engine.1.fuel_flow") == 0.0


def test_fuel_far_too_early_causes_a_hot_start(air: Halyard220) -> None:
    """Fuel at 8 % N2 makes a hot start without any fault."""
    assert start(air, "1", fuel_n2=8.0, seconds=30.0) > 740.0


def test_a_hung_start_stays_below_idle(air: Halyard220) -> None:
    """A hung start lights, but N2 stands still well below idle."""
    air.set("fault.engine.2", "hung")
    start(air, "2", seconds=45.0)
    before = number(air, "engine.2.n2")
    assert 38.0 < before < 50.0
    assert number(air, "engine.2.egt") > 500.0
    air.run(20.0)
    assert abs(number(air, "engine.2.n2") - before) < 0.5
    assert air.get("engine.2.running") == "no"


def test_no_light_off_leaves_it_cold(air: Halyard220) -> None:
    """Without light-off fuel flows and the igniters fire, but nothing gets warm and N2 stays at what the starter gives."""
    air.set("fault.engine.1", "no_light")
    assert start(air, "1", seconds=40.0) < 60.0
    assert number(air, "engine.1.fuel_flow") > 50.0
    assert air.get("engine.1.ignition") == "on"
    assert number(air, "engine.1.n2") < 40.0


def test_a_blocked_fan_does_not_turn(air: Halyard220) -> None:
    """With the fan blocked N2 rises as usual and N1 stays at zero."""
    air.set("fault.engine.1", "no_n1")
    start(air, "1", seconds=60.0)
    assert number(air, "engine.1.n2") > 50.0
    assert number(air, "engine.1.n1") == 0.0


def test_a_stuck_starter_stays_until_the_air_or_the_switch_goes(air: Halyard220) -> None:
    """The start valve stays open past cut-out until a hand puts the switch off."""
    air.set("fault.engine.1", "starter_stuck")
    start(air, "1")
    assert number(air, "engine.1.n2") > 59.0
    assert air.get("engine.1.start_valve") == "open"
    air.set("engine.1.start_switch", "off")
    air.run(0.2)
    assert air.get("engine.1.start_valve") == "closed"


def test_without_air_the_start_valve_stays_shut(powered: Halyard220) -> None:
    """Without duct pressure the start valve stays shut."""
    powered.set("engine.1.start_switch", "start")
    powered.run(5.0)
    assert powered.get("engine.1.start_valve") == "closed"
    assert number(powered, "engine.1.n2") == 0.0


def test_releasing_the_starter_early_ends_in_a_rundown(air: Halyard220) -> None:
    """With the starter off right after light-off the engine does not reach idle."""
    start(air, "1", seconds=14.0)
    air.set("engine.1.start_switch", "off")
    air.run(30.0)
    assert number(air, "engine.1.n2") < 45.0
    assert air.get("engine.1.running") == "no"


def test_thrust_spools_up_in_its_time(running: Halyard220) -> None:
    """From idle to about 90 % N1 takes some 5 to 12 seconds, slow at first, and temperature and flow follow."""
    put(running, {"engine.1.thrust_lever": 89.0, "engine.2.thrust_lever": 89.0})
    seconds, early = 0.0, 0.0
    while number(running, "engine.1.n1") < 88.0:
        running.run(0.5)
        seconds += 0.5
        early = number(running, "engine.1.n1") - 22.0 if seconds == 2.0 else early
    assert 5.0 < seconds < 12.0
    assert early < 15.0
    running.run(15.0)
    assert number(running, "engine.1.n1") == pytest.approx(92.3, abs=1.0)
    assert number(running, "engine.1.fuel_flow") > 3000.0
    assert number(running, "engine.1.egt") > 750.0


def test_the_reverser_works_on_the_ground(running: Halyard220) -> None:
    """A lever pulled behind idle unlocks, moves and deploys the reverser, and only then speeds the engine up."""
    running.set("engine.1.thrust_lever", -20.0)
    running.run(0.8)
    assert running.get("engine.1.reverser") == "transit"
    assert running.get("engine.1.reverser_unlocked") == "on"
    assert number(running, "engine.1.n1") < 23.0
    running.run(5.0)
    assert running.get("engine.1.reverser") == "deployed"
    assert number(running, "engine.1.n1") > 35.0
    running.set("engine.1.thrust_lever", 0.0)
    running.run(3.0)
    assert running.get("engine.1.reverser") == "stowed"


def test_shutdown_runs_down(running: Halyard220) -> None:
    """With the fuel lever closed the flame goes out within a second or two and the rotors coast to rest."""
    running.set("engine.2.fuel_lever", "closed")
    running.run(2.0)
    assert number(running, "engine.2.fuel_flow") == 0.0
    assert running.get("engine.2.running") == "no"
    assert number(running, "engine.2.n2") > 30.0
    running.run(30.0)
    assert number(running, "engine.2.n2") < 15.0
    assert running.get("engine.2.low_oil_pressure") == "on"
    running.run(180.0, 0.5)
    assert number(running, "engine.2.n2") == 0.0
    assert number(running, "engine.2.n1") == 0.0


def test_the_fire_handle_stops_the_engine(running: Halyard220) -> None:
    """Pulling its fire handle starves the engine."""
    running.set("fire.engine.1.handle", "pulled")
    running.run(5.0)
    assert running.get("engine.1.running") == "no"


def test_an_engine_stays_off_after_a_flame_out(running: Halyard220) -> None:
    """After a flame-out the engine runs down and stays off, even with fuel and ignition on."""
    running.set("engine.1.start_switch", "ignition")
    running.set("fault.engine.1", "flame_out")
    running.run(40.0)
    assert running.get("engine.1.running") == "no"
    assert number(running, "engine.1.n2") < 20.0
    assert running.get("engine.2.running") == "yes"
    assert running.get("electrical.bus.ac.1") == "powered"
