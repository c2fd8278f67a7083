"""Rolling, taking off, climbing, stalling, gliding, landing: plausible numbers for a light single."""

from __future__ import annotations

from copy import deepcopy
from math import hypot

import pytest

from mock_sim.piston import Halyard12
from mock_sim.piston.airfield import ROUTES, STAND
from tests.mock_sim.piston.piston_steps import FREE, number, put


def _aloft(trainer: Halyard12, height_ft: float = 2000.0, air_ms: float = 40.0) -> Halyard12:
    """In the air over the field, hands off."""
    put(trainer, {**FREE, "controls.elevator_trim": 0.0, "engine.1.throttle": 100.0})
    trainer.run(3.0)
    trainer.motion.place((0.0, 0.0), 312.0, height_ft, air_ms)
    return trainer


def _hold_pitch(trainer: Halyard12, pitch: float, seconds: float) -> None:
    """Fly with the column at one pitch and the wings level."""
    for _ in range(round(seconds / 0.1)):
        put(
            trainer,
            {
                "controls.column": max(-100.0, min(100.0, 14.0 * (pitch - number(trainer, "flight.pitch")))),
                "controls.wheel": max(-100.0, min(100.0, -4.0 * number(trainer, "flight.bank"))),
            },
        ).run(0.1)


def test_take_off_run_and_climb(running: Halyard12) -> None:
    """The aeroplane lifts off within 200 to 450 m, near 55 kt, and climbs 400 to 900 ft/min at 70 kt."""
    put(running, {**FREE, "controls.flap.lever": 8.0, "controls.elevator_trim": 0.0}).run(4.0)
    running.motion.place((0.0, 0.0), 312.0)
    running.set("pilot.task", "take_off")
    while running.get("flight.on_ground") == "yes":
        running.run(0.2)
        assert running.sim_s < 300.0
    along, right = running.pilot._position()
    assert 200.0 < along < 450.0
    assert abs(right) < 6.0
    assert 50.0 < number(running, "flight.airspeed") < 66.0
    put(running, {"controls.flap.lever": 0.0}).run(40.0)
    assert 400.0 < number(running, "flight.vertical_speed") < 900.0
    assert number(running, "flight.airspeed") == pytest.approx(70.0, abs=5.0)


def _stall_kt(trainer: Halyard12, flap: float) -> tuple[float, float]:
    """Airspeed at which the horn sounds and at which the wing gives up, with the throttle closed."""
    put(_aloft(trainer, 4000.0), {"engine.1.throttle": 0.0, "controls.flap.lever": flap}).run(0.1)
    horn = 0.0
    for step in range(600):
        _hold_pitch(trainer, min(25.0, 4.0 + 0.12 * step), 0.1)
        speed = number(trainer, "flight.airspeed")
        if trainer.get("alert.stall") == "on":
            horn = horn or speed
        if number(trainer, "flight.angle_of_attack") > trainer.airframe.stall_deg():
            return horn, speed
    raise AssertionError("it did not stall")


def test_it_stalls_after_the_horn(running: Halyard12) -> None:
    """Without flaps the horn sounds 2 to 10 kt before the stall near 47 kt; then the nose drops and height is lost."""
    horn, stall = _stall_kt(running, 0.0)
    assert 42.0 < stall < 53.0
    assert 2.0 < horn - stall < 10.0
    before = number(running, "flight.height")
    put(running, {"controls.column": 100.0}).run(4.0)
    assert number(running, "flight.height") < before - 20.0
    assert running.get("alert.stall") == "on"
    _hold_pitch(running, -6.0, 8.0)
    assert running.get("alert.stall") == "off"


def test_flaps_lower_the_stall(running: Halyard12) -> None:
    """With full flap the stall is at least 3 kt slower."""
    flapped = deepcopy(running)
    put(flapped, {"controls.flap.lever": 28.0}).run(9.0)
    assert _stall_kt(flapped, 28.0)[1] < _stall_kt(running, 0.0)[1] - 3.0


def test_it_glides_without_the_engine(running: Halyard12) -> None:
    """With the engine stopped the aeroplane descends, the propeller windmills, and fuel and sparks restart the engine."""
    put(_aloft(running, 3000.0), {"engine.1.mixture": 0.0}).run(0.5)
    _hold_pitch(running, -2.0, 20.0)
    assert running.get("engine.1.running") == "no"
    assert number(running, "flight.vertical_speed") < -300.0
    assert 200.0 < number(running, "engine.1.rpm") < 1200.0
    put(running, {"engine.1.mixture": 100.0})
    _hold_pitch(running, -2.0, 3.0)
    assert running.get("engine.1.running") == "yes"


def test_a_bank_turns_it(running: Halyard12) -> None:
    """Wheel to the right banks to the right and turns to the right; the turn coordinator agrees."""
    _hold_pitch(_aloft(running), 4.0, 3.0)
    before = number(running, "flight.heading")
    put(running, {"controls.wheel": 40.0}).run(1.5)
    put(running, {"controls.wheel": 0.0}).run(4.0)
    assert number(running, "flight.bank") > 10.0
    assert 5.0 < (number(running, "flight.heading") - before) % 360.0 < 90.0
    assert number(running, "turn.rate") > 2.0


def test_nose_up_trim_raises_the_nose(running: Halyard12) -> None:
    """Without hands on the controls, far nose-up trim raises the nose, and trim at the take-off mark does not."""
    _aloft(running).run(2.0)
    assert number(running, "flight.pitch") == pytest.approx(0.0, abs=0.5)
    put(running, {"controls.elevator_trim": 45.0}).run(5.0)
    assert number(running, "flight.pitch") > 2.0


@pytest.mark.parametrize("seed_wind", [(290.0, 7.0), (20.0, 10.0), (220.0, 12.0)])
def test_the_hands_fly_a_circuit_in_any_wind(running: Halyard12, seed_wind: tuple[float, float]) -> None:
    """In any wind the touchdown is soft and on the centre line, and the aeroplane stops clear of the runway."""
    put(running, {**FREE, "weather.wind_direction": seed_wind[0], "weather.wind_speed": seed_wind[1]})
    put(running, {"controls.elevator_trim": 0.0, "pilot.approach_speed": 63.0})
    running.motion.place((10.0, 0.0), 312.0)
    running.set("pilot.task", "take_off")
    highest, touch_ft_min, down = 0.0, 0.0, (0.0, 0.0)
    for _ in range(2500):
        sinking = number(running, "flight.vertical_speed")
        running.run(0.2)
        highest = max(highest, number(running, "flight.height"))
        if running.get("flight.on_ground") == "yes" and sinking < 0.0:
            touch_ft_min, down = sinking, running.pilot._position()
        if running.get("pilot.task") == "hold" and number(running, "flight.ground_speed") == 0.0:
            break
    assert running.get("pilot.task") == "hold"
    assert 950.0 < highest < 1080.0
    assert -450.0 < touch_ft_min < -20.0
    assert 0.0 < down[0] < 450.0
    assert abs(down[1]) < 12.0
    along, right = running.pilot._position()
    assert hypot(along - ROUTES["vacate"][-1][0], right - ROUTES["vacate"][-1][1]) < 10.0


def test_taxiing_out_and_in_ends_where_it_should(running: Halyard12) -> None:
    """From the stand to the holding point at less than 16 kt; from the taxiway back to the stand."""
    put(running, FREE)
    for route in ("taxi_out", "taxi_in"):
        if route == "taxi_in":
            running.motion.place(ROUTES["vacate"][-1], 222.0)
        running.set("pilot.task", route)
        fastest = 0.0
        for _ in range(1000):
            running.run(0.2)
            fastest = max(fastest, number(running, "flight.ground_speed"))
            if running.get("pilot.task") == "hold" and number(running, "flight.ground_speed") == 0.0:
                break
        along, right = running.pilot._position()
        assert fastest < 16.0
        assert hypot(along - ROUTES[route][-1][0], right - ROUTES[route][-1][1]) < 5.0
    assert ROUTES["taxi_in"][-1] == STAND


def test_a_forgotten_parking_brake_is_noticed_in_the_end(running: Halyard12) -> None:
    """A pilot who opens the throttle against the parking brake releases it after some seconds."""
    put(running, {**FREE, "gear.parking_brake": "set", "pilot.task": "taxi_out"}).run(3.0)
    assert number(running, "flight.ground_speed") == 0.0
    running.run(10.0)
    assert running.get("gear.parking_brake") == "released"
    assert number(running, "flight.ground_speed") > 0.0
