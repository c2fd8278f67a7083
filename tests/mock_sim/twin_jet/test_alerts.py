"""Alerts: cautions come from the systems, are shown, cancelled, stored, shown again, and go with their cause."""

from __future__ import annotations

from mock_sim.twin_jet import Halyard220
from rules.signals.model import Value
from tests.mock_sim.twin_jet.twin_jet_steps import lift, number, put


def _press(aeroplane: Halyard220, button: str) -> None:
    """Press a button and let it spring back."""
    aeroplane.set(button, "on")
    aeroplane.run(3.0)


def test_power_up_shows_many_cautions(powered: Halyard220) -> None:
    """With power on a cold aeroplane the master caution is on, cautions are shown and none is stored."""
    assert powered.get("alert.master_caution") == "on"
    assert number(powered, "alert.caution_count") > 10
    assert number(powered, "alert.stored_count") == 0


def test_without_power_there_is_no_alert(dark: Halyard220) -> None:
    """Without power no alert is shown."""
    dark.run(3.0)
    assert dark.get("alert.master_caution") == "off"
    assert number(dark, "alert.caution_count") == 0


def test_cancel_stores_and_the_key_shows_again(powered: Halyard220) -> None:
    """Cancel switches the light off and stores the shown cautions; the key shows all of them again."""
    shown = number(powered, "alert.caution_count")
    _press(powered, "alert.cancel")
    assert powered.get("alert.master_caution") == "off"
    assert number(powered, "alert.caution_count") == 0
    assert number(powered, "alert.stored_count") == shown
    _press(powered, "alert.stored_shown")
    assert powered.get("alert.stored_shown") == "off"
    assert powered.get("alert.master_caution") == "on"
    assert number(powered, "alert.caution_count") == shown
    assert number(powered, "alert.stored_count") == 0


def test_a_caution_goes_with_its_cause(powered: Halyard220) -> None:
    """A caution whose cause ends is removed from the shown and the stored cautions."""
    before = number(powered, "alert.caution_count")
    powered.set("door.hold.2", "closed")
    powered.run(0.5)
    assert number(powered, "alert.caution_count") == before - 1
    _press(powered, "alert.cancel")
    powered.set("door.hold.1", "closed")
    powered.run(0.5)
    assert number(powered, "alert.stored_count") == before - 2


def test_a_new_caution_lights_the_master_again(powered: Halyard220) -> None:
    """After a cancel only new cautions are shown."""
    _press(powered, "alert.cancel")
    powered.set("door.2.left", "open")
    powered.run(2.0)
    assert powered.get("alert.master_caution") == "on"
    assert number(powered, "alert.caution_count") == 1


def test_everything_set_leaves_no_caution(running: Halyard220) -> None:
    """An aeroplane ready for taxi has no caution, shown or stored."""
    ready: dict[str, Value] = {
        "door.1.left": "closed",
        "door.1.right": "closed",
        "door.hold.1": "closed",
        "door.hold.2": "closed",
        "ice.air_data.left": "on",
        "ice.air_data.right": "on",
        "ice.windshield.left": "on",
        "ice.windshield.right": "on",
        "inertial.left.mode": "nav",
        "inertial.right.mode": "nav",
        "autoflight.yaw_damper": "on",
        "cabin.emergency_lights": "armed",
        "gear.autobrake": "reject",
    }
    put(running, ready)
    running.run(65.0)
    assert running.alerts.shown | running.alerts.stored == set()
    assert running.get("alert.master_caution") == "off"


def test_a_short_cause_gives_no_caution(running: Halyard220) -> None:
    """A cause that lasts less than a second gives no caution."""
    _press(running, "alert.cancel")
    running.set("gear.antiskid", "off")
    running.run(0.5)
    running.set("gear.antiskid", "on")
    running.run(2.0)
    assert number(running, "alert.caution_count") == 0


def test_cautions_are_held_back_in_the_take_off_roll(running: Halyard220) -> None:
    """A caution that comes above 80 kt is counted as stored and shown only later."""
    _press(running, "alert.cancel")
    put(running, {"gear.chocks": "removed", "gear.parking_brake": "released", "controls.flap.lever": 8.0})
    put(running, {"engine.1.thrust_lever": 90.0, "engine.2.thrust_lever": 90.0})
    running.run(21.0)
    stored = number(running, "alert.stored_count")
    assert number(running, "flight.airspeed") > 80.0
    running.set("fault.generator.1", "trip")
    running.run(2.0)
    assert number(running, "alert.caution_count") == 0
    assert number(running, "alert.stored_count") == stored + 1


def test_the_light_test_lights_both_masters(powered: Halyard220) -> None:
    """The light test lights both master lights for as long as it is pressed."""
    _press(powered, "alert.cancel")
    powered.set("alert.test", "on")
    powered.run(1.0)
    assert powered.get("alert.test") == powered.get("alert.master_warning") == "on"
    assert powered.get("alert.master_caution") == "on"
    powered.run(3.0)
    assert powered.get("alert.test") == powered.get("alert.master_warning") == "off"


def test_cancel_silences_a_warning_until_it_comes_again(powered: Halyard220) -> None:
    """A cancelled master warning stays out while its cause lasts, and comes on for a new one."""
    powered.set("fault.fire", "cargo")
    powered.run(0.5)
    assert powered.get("alert.master_warning") == "on"
    _press(powered, "alert.cancel")
    assert powered.get("fire.cargo.warning") == "on"
    assert powered.get("alert.master_warning") == "off"
    powered.set("fault.fire", "apu")
    powered.run(0.5)
    assert powered.get("alert.master_warning") == "on"


def test_only_gear_that_stops_in_transit_is_a_caution(running: Halyard220) -> None:
    """The disagree light burns while the legs travel; only when it goes on for longer than they need is it a caution."""
    lift(running, 3000.0, 110.0)
    put(running, {"engine.1.thrust_lever": 60.0, "engine.2.thrust_lever": 60.0})
    running.run(0.2)
    running.set("gear.lever", "up")
    running.run(5.0)
    assert running.get("gear.disagree") == "on"
    assert "gear.disagree" not in running.alerts.shown | running.alerts.stored
    pumps = [f"hydraulics.1.pump.{kind}.switch" for kind in ("engine", "electric")]
    put(running, dict.fromkeys(pumps, "off"))
    running.panel.numbers["hydraulics.1.pressure"] = 0.0
    running.run(9.0)
    assert "gear.disagree" in running.alerts.shown | running.alerts.stored
