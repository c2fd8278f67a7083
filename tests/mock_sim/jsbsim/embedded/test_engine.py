"""Tests of engines whose core is the library's and whose start, oil and exhaust are ours."""

from __future__ import annotations

import pytest

from mock_sim.jsbsim.embedded import JsbsimHalyard220
from tests.mock_sim.jsbsim.embedded.conftest import ready
from tests.mock_sim.twin_jet.twin_jet_steps import number, put, start

pytestmark = pytest.mark.real


def test_a_start_follows_the_library(parked: JsbsimHalyard220) -> None:
    """The starter holds N2 near 25 %; light-off brings the engine to idle, within its limits."""
    ready(parked)
    parked.set("engine.2.start_switch", "start")
    parked.run(12.0)
    assert number(parked, "engine.2.n2") == pytest.approx(25.2, abs=0.1)
    assert number(parked, "engine.2.oil_pressure") > 15.0
    assert start(parked, "2") < 735.0
    assert number(parked, "engine.2.n1") == pytest.approx(30.0, abs=0.1)
    assert number(parked, "engine.2.n2") == pytest.approx(60.0, abs=0.1)
    assert parked.get("engine.2.running") == "yes"
    assert parked.get("engine.2.start_switch") == "off"
    assert 300.0 < number(parked, "engine.2.fuel_flow") < 800.0
    assert number(parked, "engine.1.n2") == 0.0


def test_the_starter_needs_duct_pressure(parked: JsbsimHalyard220) -> None:
    """Without duct pressure the start switch turns no engine."""
    put(parked, {"electrical.battery.switch": "on", "engine.1.start_switch": "start"})
    parked.run(10.0)
    assert number(parked, "engine.1.n2") == 0.0


@pytest.mark.parametrize("fault", ["no_light", "flame_out"])
def test_an_engine_without_a_flame_does_not_reach_idle(parked: JsbsimHalyard220, fault: str) -> None:
    """An engine that does not light stays at the speed of the starter."""
    ready(parked)
    parked.set("fault.engine.1", fault)
    start(parked, "1", seconds=40.0)
    assert number(parked, "engine.1.n2") == pytest.approx(25.2, abs=0.1)
    assert parked.get("engine.1.running") == "no"


def test_levers_set_the_fan_of_their_own_engine(running: JsbsimHalyard220) -> None:
    """The same lever gives the N1 that it gives in the other Halyard 220, on its own side only."""
    put(running, {"engine.1.thrust_lever": 89.1})
    running.run(12.0)
    assert number(running, "engine.1.n1") == pytest.approx(92.4, abs=0.4)
    assert number(running, "engine.2.n1") == pytest.approx(30.0, abs=0.1)
    assert number(running, "engine.1.fuel_flow") > 5 * number(running, "engine.2.fuel_flow")


def test_fuel_cut_off_stops_one_engine(running: JsbsimHalyard220) -> None:
    """With the fuel cut off the engine runs down without fuel flow, and the other one runs on."""
    running.set("engine.1.fuel_lever", "closed")
    running.run(15.0)
    assert number(running, "engine.1.n2") < 1.0
    assert number(running, "engine.1.fuel_flow") == 0.0
    assert (running.get("engine.1.running"), running.get("engine.2.running")) == ("no", "yes")


def test_the_engines_burn_fuel_of_our_tanks(running: JsbsimHalyard220) -> None:
    """The library's fuel flow leaves our tanks, and the library's aeroplane gets lighter."""
    before, weight = number(running, "fuel.total"), running.aircraft["inertia/weight-lbs"]
    put(running, {f"engine.{k}.thrust_lever": 60.0 for k in "12"})
    running.run(60.0)
    burnt = before - number(running, "fuel.total")
    assert burnt > 30.0
    assert weight - running.aircraft["inertia/weight-lbs"] == pytest.approx(0.6 * burnt / 0.4536, rel=0.15)
