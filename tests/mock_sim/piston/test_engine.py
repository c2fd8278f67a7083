"""Start, idle, power, temperatures, oil, ignition, carburettor: what one engine does over time."""

from __future__ import annotations

import pytest

from mock_sim.piston import Halyard12
from rules.signals.model import Value
from tests.mock_sim.piston.piston_steps import crank, number, prime, put

RUNUP = 57.0


def _settle(trainer: Halyard12, positions: dict[str, Value], seconds: float = 6.0) -> float:
    """Engine speed some seconds after controls were moved."""
    put(trainer, positions).run(seconds)
    return number(trainer, "engine.1.rpm")


def test_a_primed_engine_starts_in_seconds(alive: Halyard12) -> None:
    """A primed engine fires within 4 s of cranking; 10 s later it has oil pressure and the starter is off."""
    prime(alive)
    assert crank(alive) < 4.0
    alive.run(10.0)
    assert alive.get("engine.1.starter") == "off"
    assert 850.0 < number(alive, "engine.1.rpm") < 1150.0
    assert number(alive, "engine.1.oil_pressure") > 40.0
    assert alive.get("alert.oil_pressure") == "off"


def test_a_cold_engine_without_priming_takes_longer(alive: Halyard12) -> None:
    """A cold engine without priming needs more than 7 s; a warm one needs no priming."""
    assert 7.0 < crank(alive, 30.0) < 15.0
    alive.run(300.0, 0.5)
    put(alive, {"engine.1.mixture": 0.0}).run(6.0)
    assert alive.get("engine.1.running") == "no"
    put(alive, {"engine.1.mixture": 100.0})
    assert crank(alive) < 4.0


@pytest.mark.parametrize(
    "lacking",
    [
        {"electrical.battery.switch": "off"},
        {"engine.1.mixture": 0.0},
        {"fault.magneto.left": "dead", "fault.magneto.right": "dead"},
        {"fault.engine": "stopped"},
    ],
)
def test_the_engine_does_not_start_without_its_needs(alive: Halyard12, lacking: dict[str, Value]) -> None:
    """The engine does not start without battery, fuel, sparks or a sound engine."""
    prime(alive)
    put(alive, lacking)
    assert crank(alive, 20.0) == 20.0
    assert alive.get("engine.1.running") == "no"


def test_the_starter_draws_much_and_has_its_duty(alive: Halyard12) -> None:
    """The starter lowers the voltage, stops by itself when it has turned too long, and works again when cool."""
    put(alive, {"engine.1.mixture": 0.0, "engine.1.magnetos": "start"}).run(3.0)
    assert number(alive, "electrical.ammeter") < -70.0
    assert number(alive, "electrical.bus.voltage") < 23.0
    assert 150.0 < number(alive, "engine.1.rpm") < 230.0
    alive.run(40.0)
    assert alive.get("engine.1.starter") == "on"
    alive.run(40.0)
    assert alive.get("engine.1.starter") == "off"
    put(alive, {"engine.1.magnetos": "off"}).run(150.0, 0.5)
    put(alive, {"engine.1.magnetos": "start"}).run(1.0)
    assert alive.get("engine.1.starter") == "on"


def test_a_stuck_starter_shows_on_the_ammeter(alive: Halyard12) -> None:
    """A stuck starter keeps turning with the key at both, and the ammeter shows its current."""
    prime(alive)
    alive.set("fault.starter", "stuck")
    crank(alive)
    alive.run(5.0)
    assert alive.get("engine.1.starter") == "on"
    assert number(alive, "electrical.ammeter") < -20.0


@pytest.mark.parametrize(("fault", "at_30_s", "at_90_s"), [("late", 0.0, 40.0), ("lost", 0.0, 0.0)])
def test_oil_pressure_that_stays_away(alive: Halyard12, fault: str, at_30_s: float, at_90_s: float) -> None:
    """Thick oil gives no pressure for more than 30 s, a broken pump none at all; the light is on."""
    prime(alive)
    alive.set("fault.oil_pressure", fault)
    crank(alive)
    alive.run(30.0)
    assert number(alive, "engine.1.oil_pressure") == at_30_s
    assert alive.get("alert.oil_pressure") == "on"
    alive.run(60.0)
    assert number(alive, "engine.1.oil_pressure") >= at_90_s
    assert (number(alive, "engine.1.oil_pressure") > 0.0) is (at_90_s > 0.0)


def test_power_comes_with_the_throttle(running: Halyard12) -> None:
    """Idle is 600 to 700 rpm, full throttle standing 2 200 to 2 400; manifold pressure follows."""
    idle = _settle(running, {"engine.1.throttle": 0.0}, 10.0)
    assert 580.0 < idle < 700.0
    low = number(running, "engine.1.manifold_pressure")
    full = _settle(running, {"engine.1.throttle": 100.0}, 10.0)
    assert 2200.0 < full < 2400.0
    assert low < 13.0 < 27.0 < number(running, "engine.1.manifold_pressure")
    assert number(running, "engine.1.fuel_flow") > 20.0


def test_temperatures_take_minutes(running: Halyard12) -> None:
    """At high power cylinder heads and oil warm up over minutes, and cool when the engine stops."""
    oil, heads = number(running, "engine.1.oil_temperature"), number(running, "engine.1.cht")
    running.set("engine.1.throttle", 70.0)
    running.run(10.0)
    assert number(running, "engine.1.oil_temperature") < oil + 10.0
    running.run(600.0, 0.5)
    assert 70.0 < number(running, "engine.1.oil_temperature") < 110.0
    assert heads + 40.0 < number(running, "engine.1.cht") < 230.0
    running.set("engine.1.mixture", 0.0)
    running.run(600.0, 0.5)
    assert number(running, "engine.1.egt") < 20.0
    assert 20.0 < number(running, "engine.1.cht") < 120.0


def test_each_magneto_has_its_drop(running: Halyard12) -> None:
    """At run-up each magneto alone loses 50 to 125 rpm, the two differ by less than 50, and the exhaust grows hotter."""
    both = _settle(running, {"engine.1.throttle": RUNUP}, 12.0)
    assert 1700.0 < both < 1900.0
    hot = number(running, "engine.1.egt")
    left = _settle(running, {"engine.1.magnetos": "left"})
    assert number(running, "engine.1.egt") > hot + 10.0
    _settle(running, {"engine.1.magnetos": "both"})
    right = _settle(running, {"engine.1.magnetos": "right"})
    assert 50.0 < both - left < 125.0
    assert 50.0 < both - right < 125.0
    assert abs(left - right) < 50.0


def test_an_ungrounded_magneto_shows_no_drop(running: Halyard12) -> None:
    """With the right magneto ungrounded the engine loses no speed on the left one, and the key cannot stop it."""
    both = _settle(running, {"engine.1.throttle": RUNUP, "fault.magneto.right": "ungrounded"}, 12.0)
    assert _settle(running, {"engine.1.magnetos": "left"}) == pytest.approx(both, abs=12.0)
    _settle(running, {"engine.1.throttle": 10.0, "engine.1.magnetos": "off"})
    assert running.get("engine.1.running") == "yes"


def test_a_dead_magneto_stops_the_engine_when_alone(running: Halyard12) -> None:
    """With a dead left magneto the engine has a drop on both, and stops on left alone."""
    sound = _settle(running, {"engine.1.throttle": RUNUP}, 12.0)
    assert _settle(running, {"fault.magneto.left": "dead"}) < sound - 50.0
    _settle(running, {"engine.1.magnetos": "left"}, 2.0)
    assert running.get("engine.1.running") == "no"


def test_a_short_off_at_idle_does_not_stop_it(running: Halyard12) -> None:
    """In the grounding check half a second at off lowers the speed, and the engine runs on at both."""
    _settle(running, {"engine.1.throttle": 0.0}, 8.0)
    put(running, {"engine.1.magnetos": "off"}).run(0.5)
    assert running.get("engine.1.running") == "no"
    put(running, {"engine.1.magnetos": "both"}).run(3.0)
    assert running.get("engine.1.running") == "yes"
    assert number(running, "engine.1.oil_pressure") > 30.0


def test_mixture(running: Halyard12) -> None:
    """A slightly lean mixture gives a little more power, a very lean one much less; cut-off stops the engine within seconds."""
    rich = _settle(running, {"engine.1.throttle": RUNUP}, 12.0)
    assert _settle(running, {"engine.1.mixture": 78.0}) > rich
    assert _settle(running, {"engine.1.mixture": 45.0}) < rich - 60.0
    _settle(running, {"engine.1.mixture": 0.0}, 8.0)
    assert running.get("engine.1.running") == "no"
    assert number(running, "engine.1.rpm") < 5.0


def test_carburettor_heat_costs_some_speed(running: Halyard12) -> None:
    """Without ice, full heat costs 40 to 150 rpm and warms the carburettor; the speed returns without heat."""
    running.set("weather.humidity", 10.0)
    running.carburettor.ice = 0.0
    cold = _settle(running, {"engine.1.throttle": RUNUP}, 12.0)
    throat = number(running, "ice.carburettor_temperature")
    assert throat < 0.0
    hot = _settle(running, {"ice.carburettor": 100.0}, 10.0)
    assert 40.0 < cold - hot < 150.0
    assert number(running, "ice.carburettor_temperature") > throat + 30.0
    assert _settle(running, {"ice.carburettor": 0.0}, 10.0) == pytest.approx(cold, abs=15.0)


@pytest.mark.parametrize(
    ("weather", "iced"),
    [
        ({"weather.humidity": 95.0, "flight.outside_air_temperature": 8.0}, True),
        ({"weather.visible_moisture": "yes", "flight.outside_air_temperature": 8.0}, True),
        ({"weather.humidity": 20.0, "flight.outside_air_temperature": 8.0}, False),
        ({"weather.humidity": 95.0, "flight.outside_air_temperature": 38.0}, False),
    ],
)
def test_ice_in_the_carburettor(running: Halyard12, weather: dict[str, Value], iced: bool) -> None:
    """At small throttle in cool moist air the engine slowly loses speed; heat brings it back; dry or hot air does no harm."""
    running.carburettor.ice = 0.0
    put(running, {**weather, "engine.1.throttle": 20.0}).run(10.0)
    fresh = number(running, "engine.1.rpm")
    running.run(600.0, 0.5)
    lost = fresh - number(running, "engine.1.rpm")
    assert (lost > 60.0) is iced
    put(running, {"ice.carburettor": 100.0}).run(60.0)
    put(running, {"ice.carburettor": 0.0}).run(10.0)
    assert number(running, "engine.1.rpm") == pytest.approx(fresh, abs=20.0)
    assert running.carburettor.ice < 0.05


def test_a_primer_that_is_out_makes_it_run_rich(running: Halyard12) -> None:
    """With the primer open at run-up some speed is lost."""
    shut = _settle(running, {"engine.1.throttle": RUNUP}, 12.0)
    assert _settle(running, {"engine.1.primer": "open"}) < shut - 10.0


def test_the_hour_meters_count(running: Halyard12) -> None:
    """The engine's meter counts while oil pressure is there; the flight meter does not on the ground."""
    engine, flight = number(running, "hours.engine"), number(running, "hours.flight")
    running.run(360.0, 0.5)
    assert number(running, "hours.engine") == pytest.approx(engine + 0.1, abs=0.002)
    assert number(running, "hours.flight") == flight
