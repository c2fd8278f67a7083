"""Alerts: master lights, shown and stored cautions, and warnings.

A new caution is shown and lights the master caution.  `alert.cancel` puts the light out and stores the shown
cautions; a stored caution stays stored while its cause lasts, and `alert.stored_shown` shows it again.  From 80 kt to 400 ft new cautions are held back
(the idea of AC 25.1322-1, from memory) and come up afterwards.  There is neither windshear nor traffic here, so their
alerts stay off.

Takes: cautions, warnings, buttons, power.  Gives: the `alert.*` signals.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp
from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.twin_jet.cautions import cautions
from mock_sim.twin_jet.electrical import Electrical
from mock_sim.twin_jet.takeoff_warning import TakeoffWarning

PRESS_S = 2.0
DEBOUNCE_S = 1.0
TRAVEL_S = {
    "gear.disagree": 12.0,
    **{f"ice.engine.valve.{k}": 4.0 for k in "12"},
    **{f"engine.{k}.reverser": 4.0 for k in "12"},
}
"""Delay of a caution, so that a part in transit gives none."""
INHIBIT_FROM_KT = 80.0
INHIBIT_TO_FT = 400.0
OVERSPEED_KT = 336.0
CABIN_WARNING_FT = 10000.0
BUTTONS = ("alert.cancel", "alert.stored_shown", "alert.test")
WARNINGS = (
    "alert.takeoff_configuration",
    "alert.landing_configuration",
    "alert.cabin_altitude",
    "alert.overspeed",
    "alert.stall",
    "alert.terrain",
    "alert.windshear",
    "fire.engine.1.warning",
    "fire.engine.2.warning",
    "fire.apu.warning",
    "fire.cargo.warning",
)

PART = Part(
    controls={
        "alert.cancel": "off",
        "alert.stored_shown": "off",
        "alert.test": "off",
        "display.lower": "shown",
    },
    drives={
        "alert.master_warning": "off",
        "alert.master_caution": "off",
        "alert.landing_configuration": "off",
        "alert.cabin_altitude": "off",
        "alert.overspeed": "off",
        "alert.stall": "off",
        "alert.terrain": "off",
        "alert.windshear": "off",
        "alert.resolution_advisory": "off",
        "alert.caution_count": 0.0,
        "alert.stored_count": 0.0,
        "alert.stored_shown": "off",
        "alert.test": "off",
    },
    extra=(choice_control("alert.cancel", ("off", "on"), "Press on the master lights, which cancels them"),),
)


class Alerts:
    """The caution display and the master lights."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical
        self.takeoff = TakeoffWarning(panel, electrical)
        self._pressed_s = dict.fromkeys(BUTTONS, 0.0)
        self._since_s: dict[str, float] = {}
        self.shown: set[str] = set()
        self.stored: set[str] = set()
        self._caution_lit = False
        self._cancelled: set[str] = set()

    def step(self, dt_s: float) -> None:
        """Advance buttons, warnings and cautions."""
        self._release_buttons(dt_s)
        self.takeoff.step()
        self._warnings()
        self._update_cautions(self._debounced_cautions(dt_s))
        self._apply_buttons()
        self._update_master_lights()

    def _release_buttons(self, dt_s: float) -> None:
        """Release pressed buttons after their time."""
        switch = self._panel.switch
        for name in BUTTONS:
            self._pressed_s[name] = self._pressed_s[name] + dt_s if switch[name] == "on" else 0.0
            if self._pressed_s[name] > PRESS_S:
                switch[name] = "off"

    def _warnings(self) -> None:
        """Yield the warnings other than fire and take-off configuration."""
        panel, numbers, words = self._panel, self._panel.numbers, self._panel.words
        flying = words["flight.on_ground"] == "no"
        down = all(words[f"gear.{leg}.locked"] == "down" for leg in ("nose", "left", "right"))
        idle = all(panel.dial[f"engine.{k}.thrust_lever"] < 20.0 for k in "12")
        low = numbers["flight.height"] < 1000.0 and numbers["flight.vertical_speed"] < -200.0
        conditions = {
            "landing_configuration": flying
            and not down
            and ((idle and low) or panel.dial["controls.flap.lever"] > 20.0),
            "cabin_altitude": numbers["cabin.altitude"] > CABIN_WARNING_FT,
            "overspeed": numbers["flight.airspeed"] > OVERSPEED_KT,
            "stall": flying and numbers["flight.angle_of_attack"] > 13.0,
            "terrain": flying
            and panel.words["terrain.inhibit"] == "no"
            and numbers["flight.vertical_speed"] < -1500.0 - 2.2 * numbers["flight.height"]
            and numbers["flight.height"] < 2400.0,
        }
        powered = self._electrical.any_dc
        for name, holds in conditions.items():
            words[f"alert.{name}"] = "on" if holds and powered else "off"

    def _debounced_cautions(self, dt_s: float) -> set[str]:
        """Return the cautions that have lasted long enough to alert the crew."""
        if not self._electrical.any_dc:
            self._since_s.clear()
            return set()
        now = cautions(self._panel)
        self._since_s = {name: self._since_s.get(name, 0.0) + dt_s for name in now}
        return {name for name, held_s in self._since_s.items() if held_s >= TRAVEL_S.get(name, DEBOUNCE_S)}

    def _update_cautions(self, active: set[str]) -> None:
        """Show new cautions, or hold them back during the inhibited part of the take-off."""
        fresh = active - self.shown - self.stored
        self.shown &= active
        self.stored &= active
        numbers = self._panel.numbers
        held = (
            numbers["flight.airspeed"] > INHIBIT_FROM_KT
            and numbers["flight.height"] < INHIBIT_TO_FT
            and all(self._panel.dial[f"engine.{k}.thrust_lever"] > 40.0 for k in "12")
        )
        if fresh and held:
            self.stored |= fresh
        elif fresh:
            self.shown |= fresh
            self._caution_lit = True

    def _apply_buttons(self) -> None:
        """Store the shown cautions on cancel; show stored ones on their button."""
        panel = self._panel
        powered = self._electrical.any_dc
        if panel.switch["alert.cancel"] == "on" and powered:
            self.stored |= self.shown
            self.shown = set()
            self._caution_lit = False
            self._cancelled = self._active_warnings()
        if panel.switch["alert.stored_shown"] == "on" and powered and self.stored:
            self.shown |= self.stored
            self.stored = set()
            self._caution_lit = True
        if not self.shown:
            self._caution_lit = False

    def _active_warnings(self) -> set[str]:
        """Return the warnings that are on."""
        return {name for name in WARNINGS if self._panel.words[name] == "on"}

    def _update_master_lights(self) -> None:
        """Update both master lights, the counts and the light test."""
        panel = self._panel
        powered = self._electrical.any_dc
        burning = self._active_warnings()
        self._cancelled &= burning
        test = powered and panel.switch["alert.test"] == "on"
        panel.words["alert.test"] = "on" if test else "off"
        panel.words["alert.stored_shown"] = panel.switch["alert.stored_shown"] if powered else "off"
        warns = bool(burning - self._cancelled) or test
        panel.words["alert.master_warning"] = "on" if powered and warns else "off"
        panel.words["alert.master_caution"] = "on" if powered and (self._caution_lit or test) else "off"
        panel.numbers["alert.caution_count"] = clamp(float(len(self.shown)), 0.0, 100.0)
        panel.numbers["alert.stored_count"] = clamp(float(len(self.stored)), 0.0, 100.0)
