"""Cabin and apron: doors, windows, seats, covers, ropes and radios, as a person sets them.

Takes: controls inside and outside, warm air from the engine.  Gives: their positions, the cabin temperature.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, fraction_between, lag
from mock_sim.common.panel import Panel, Part

PART = Part(
    controls={
        **{f"parking.tie_down.{place}": "on" for place in ("left", "right", "tail")},
        "parking.tow_bar": "removed",
        "parking.pitot_cover": "on",
        "parking.static_cover": "on",
        "parking.engine_cover": "on",
        "gear.tyres": "good",
        "propeller.area": "clear",
        "ice.airframe": "no",
        "cabin.heat": 0.0,
        "cabin.air": 0.0,
        "ice.defrost": 0.0,
        **{f"seat.{side}.lock": "unlocked" for side in ("left", "right")},
        **{f"seat.{side}.belt": "open" for side in ("left", "right")},
        "seat.rear_belts": "fastened",
        "cabin.baggage": "secured",
        "emergency.locator": "armed",
        "fire.extinguisher": "charged",
        **{f"door.{side}": "closed" for side in ("left", "right")},
        "door.baggage": "closed",
        **{f"cockpit.window.{side}": "closed" for side in ("left", "right")},
        "radio.com.1": 121.5,
        "radio.com.2": 121.5,
        "radio.standby.1": 118.0,
        "radio.standby.2": 118.0,
        "radio.panel": "com_1",
        "radio.headset": "off",
    },
    drives={"cabin.temperature": 10.0},
)


class Cabin:
    """The temperature in the cabin; all other signals read their control."""

    def __init__(self, panel: Panel) -> None:
        self._panel = panel

    def step(self, dt_s: float) -> None:
        """Advance the cabin's temperature."""
        numbers, dial = self._panel.numbers, self._panel.dial
        warm = 0.45 * dial["cabin.heat"] * fraction_between(numbers["engine.1.cht"], 40.0, 120.0)
        target = numbers["flight.outside_air_temperature"] + 3.0 + warm - 0.02 * dial["cabin.air"]
        before = numbers["cabin.temperature"]
        numbers["cabin.temperature"] = clamp(lag(before, target, 240.0, dt_s), -39.0, 59.0)
