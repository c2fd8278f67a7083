"""The aeroplane's own take-off configuration warning.

The items are those of CS 25.703(a): flaps or leading-edge devices, spoilers and speedbrake, longitudinal trim, and the
parking brake, which the FAA's text (14 CFR 25.703) does not name.  Thresholds are of the invented type.

Takes: levers, positions, thrust, power.  Gives: which items are wrong, while the warning is armed.
"""

from __future__ import annotations

from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.twin_jet.electrical import Electrical

FLAPS_DEG = (4.0, 20.0)
TRIM_DEG = (2.0, 8.0)
THRUST_LEVER = 50.0
THRUST_N1 = 62.0
IDLE_LEVER = 5.0
"""A fan that still runs down with closed levers does not arm the warning."""

PART = Part(
    controls={"fault.takeoff_warning": "none"},
    drives={"alert.takeoff_configuration": "off", "alert.takeoff_warning_power": "off"},
    extra=(choice_control("fault.takeoff_warning", ("none", "unpowered"), "The warning's supply is lost"),),
)


class TakeoffWarning:
    """The warning, armed on the ground by either thrust lever or fan speed."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical

    def step(self) -> None:
        """Update the warning."""
        panel = self._panel
        powered = (
            self._electrical.dc["1"]
            and self._electrical.supplies("configuration_warning")
            and panel.switch["fault.takeoff_warning"] == "none"
        )
        panel.words["alert.takeoff_warning_power"] = "powered" if powered else "off"
        warns = powered and self._armed() and bool(self.wrong_items())
        panel.words["alert.takeoff_configuration"] = "on" if warns else "off"

    def _armed(self) -> bool:
        """Return True at take-off thrust on the ground, until the nose is raised or the levers are closed."""
        panel, numbers = self._panel, self._panel.numbers
        thrust = any(
            panel.dial[f"engine.{k}.thrust_lever"] >= THRUST_LEVER
            or (
                numbers[f"engine.{k}.n1"] >= THRUST_N1 and panel.dial[f"engine.{k}.thrust_lever"] > IDLE_LEVER
            )
            for k in "12"
        )
        return thrust and panel.words["flight.on_ground"] == "yes" and numbers["flight.pitch"] < 4.0

    def wrong_items(self) -> list[str]:
        """Return the items that are wrong for take-off."""
        panel, numbers = self._panel, self._panel.numbers
        flap = (numbers["controls.flap.position"], panel.dial["controls.flap.lever"])
        spoiler = max(numbers["controls.spoiler.left"], numbers["controls.spoiler.right"])
        rolling = abs(numbers["controls.wheel"]) > 15.0
        items = {
            "flaps": not all(FLAPS_DEG[0] <= angle <= FLAPS_DEG[1] for angle in flap),
            "slats": panel.words["controls.slat.position"] in ("retracted", "transit"),
            "trim": not TRIM_DEG[0] <= numbers["controls.stabiliser_trim"] <= TRIM_DEG[1],
            "spoilers": panel.switch["controls.speedbrake.lever"] not in ("stowed", "armed")
            or (spoiler > 5.0 and not rolling),
            "parking brake": panel.switch["gear.parking_brake"] == "set",
        }
        return [item for item, is_wrong in items.items() if is_wrong]
