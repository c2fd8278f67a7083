"""Tests of flight controls: sweeps, lock, trims, flaps and slats in transit, spoilers."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import number, put

AXES = [("column", "elevator"), ("wheel", "aileron"), ("pedals", "rudder")]


@pytest.mark.parametrize(("control", "surface"), AXES)
def test_a_surface_sweeps_fully_with_pressure(pressed: Halyard220, control: str, surface: str) -> None:
    """With hydraulics a surface follows its control to both stops within a second or two."""
    for stop in (100.0, -100.0):
        pressed.set(f"controls.{control}", stop)
        pressed.run(2.0)
        assert number(pressed, f"controls.{surface}") == pytest.approx(stop, abs=1.0)


@pytest.mark.parametrize(("control", "surface"), AXES)
def test_without_hydraulics_a_surface_does_not_reach_its_stop(
    powered: Halyard220, control: str, surface: str
) -> None:
    """Without hydraulics a surface moves, but does not reach its stop."""
    powered.set(f"controls.{control}", 100.0)
    powered.run(3.0)
    assert 30.0 < number(powered, f"controls.{surface}") < 80.0


def test_a_surface_without_its_power_switch_is_by_hand(pressed: Halyard220) -> None:
    """A surface without hydraulic power moves by hand only; the others have their full travel."""
    put(pressed, {"controls.supply.elevator": "off", "controls.column": 100.0, "controls.wheel": 100.0})
    pressed.run(3.0)
    assert number(pressed, "controls.elevator") < 80.0
    assert number(pressed, "controls.aileron") > 99.0


def test_the_lock_holds_everything(pressed: Halyard220) -> None:
    """With the control lock on neither control nor surface moves."""
    put(pressed, {"controls.lock": "on", "controls.column": 100.0, "controls.pedals": -100.0})
    pressed.run(3.0)
    assert number(pressed, "controls.column") == 0.0
    assert number(pressed, "controls.elevator") == number(pressed, "controls.rudder") == 0.0


def test_flaps_take_time_and_slats_go_first(pressed: Halyard220) -> None:
    """Flaps run at their rate through transit to the lever, and the slats pass transit to extended."""
    pressed.set("controls.flap.lever", 20.0)
    pressed.run(4.0)
    assert number(pressed, "controls.flap.position") == pytest.approx(6.0, abs=0.3)
    assert pressed.get("controls.slat.position") == "transit"
    pressed.run(10.0)
    assert number(pressed, "controls.flap.position") == 20.0
    assert pressed.get("controls.slat.position") == "full"
    pressed.set("controls.flap.lever", 8.0)
    pressed.run(12.0)
    assert pressed.get("controls.slat.position") == "extended"
    pressed.set("controls.flap.lever", 0.0)
    pressed.run(12.0)
    assert pressed.get("controls.slat.position") == "retracted"
    assert number(pressed, "controls.flap.position") == 0.0


def test_flaps_do_not_move_without_system_2(powered: Halyard220) -> None:
    """Without pressure the lever moves and the flaps do not; the standby drive moves them slowly."""
    powered.set("controls.flap.lever", 8.0)
    powered.run(10.0)
    assert number(powered, "controls.flap.lever") == 8.0
    assert number(powered, "controls.flap.position") == 0.0
    powered.set("controls.flap.standby_drive", "on")
    powered.run(5.0)
    assert 1.0 < number(powered, "controls.flap.position") < 3.0


def test_the_stabiliser_runs_to_its_setting(powered: Halyard220) -> None:
    """Electric trim runs at its rate; isolated, only the slow hand wheel is left."""
    powered.set("controls.stabiliser_trim", 6.0)
    powered.run(2.0)
    assert number(powered, "controls.stabiliser_trim") == pytest.approx(4.8, abs=0.1)
    powered.run(5.0)
    assert number(powered, "controls.stabiliser_trim") == 6.0
    put(powered, {"controls.trim_isolate": "isolated", "controls.stabiliser_trim": 5.0})
    powered.run(2.0)
    assert number(powered, "controls.stabiliser_trim") == pytest.approx(5.7, abs=0.1)


def test_rudder_and_aileron_trim_need_power(dark: Halyard220) -> None:
    """The trim motors do not run without power, and run with it."""
    put(dark, {"controls.rudder_trim": 3.0, "controls.aileron_trim": -2.0})
    dark.run(5.0)
    assert number(dark, "controls.rudder_trim") == number(dark, "controls.aileron_trim") == 0.0
    put(dark, {"electrical.battery.switch": "on", "electrical.external.switch": "on"})
    dark.run(5.0)
    assert number(dark, "controls.rudder_trim") == 3.0
    assert number(dark, "controls.aileron_trim") == -2.0


@pytest.mark.parametrize(("lever", "angle"), [("half", 45.0), ("full", 100.0), ("armed", 0.0)])
def test_spoilers_follow_the_lever(pressed: Halyard220, lever: str, angle: float) -> None:
    """Each lever position has its spoiler angle; armed keeps them down at the stand."""
    pressed.set("controls.speedbrake.lever", lever)
    pressed.run(3.0)
    assert number(pressed, "controls.spoiler.left") == number(pressed, "controls.spoiler.right") == angle


def test_spoilers_need_pressure(powered: Halyard220) -> None:
    """Without hydraulics the lever moves no spoiler."""
    powered.set("controls.speedbrake.lever", "full")
    powered.run(3.0)
    assert number(powered, "controls.spoiler.left") == 0.0


def test_roll_raises_one_side(pressed: Halyard220) -> None:
    """Wheel to the right raises the right spoilers only."""
    pressed.set("controls.wheel", 80.0)
    pressed.run(2.0)
    assert number(pressed, "controls.spoiler.right") > 20.0
    assert number(pressed, "controls.spoiler.left") == 0.0


def test_flaps_that_move_apart_are_stopped(pressed: Halyard220) -> None:
    """An asymmetry shows once the flaps move, stops them, and they continue when it is cleared."""
    pressed.set("fault.flaps", "asymmetry")
    pressed.run(2.0)
    assert pressed.get("controls.flap.asymmetry") == "no"
    pressed.set("controls.flap.lever", 12.0)
    pressed.run(10.0)
    assert pressed.get("controls.flap.asymmetry") == "yes"
    assert number(pressed, "controls.flap.position") < 1.0
    pressed.set("fault.flaps", "none")
    pressed.run(10.0)
    assert pressed.get("controls.flap.asymmetry") == "no"
    assert number(pressed, "controls.flap.position") == 12.0
