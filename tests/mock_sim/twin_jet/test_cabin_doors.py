"""Tests of doors and cabin when parked, and of recorders that need power."""

from __future__ import annotations

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import put


def test_the_start_is_parked_dark_and_open(dark: Halyard220) -> None:
    """At the start it is on chocks and parking brake, doors open, stairs out, tug away, ground power connected but off."""
    state = dark.state()
    wanted = {
        "gear.chocks": "on",
        "gear.parking_brake": "set",
        "gear.tug": "detached",
        "door.1.left": "open",
        "door.hold.2": "open",
        "door.stairs": "extended",
        "electrical.external.available": "yes",
        "electrical.external.switch": "off",
        "electrical.battery.switch": "off",
        "flight.on_ground": "yes",
        "engine.1.fuel_lever": "closed",
    }
    assert {name: state[name] for name in wanted} == wanted


def test_recorders_need_power(dark: Halyard220) -> None:
    """The recorders run with AC power, and do not run without it."""
    dark.run(0.5)
    assert dark.get("recorder.voice") == "off"
    put(dark, {"electrical.battery.switch": "on", "electrical.external.switch": "on"})
    dark.run(0.5)
    assert dark.get("recorder.voice") == dark.get("recorder.flight") == "on"
