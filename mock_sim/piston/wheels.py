"""Wheels, brakes and nose wheel, and what keeps the parked aeroplane in place.

Takes: pedals, toe brakes, handles, chocks, ropes.  Gives: braking, nose-wheel angle, `moored`.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, slew
from mock_sim.common.panel import Panel, Part

NOSE_DEG_PER_PEDAL = 0.32
PARKED_PSI = 620.0
PEDAL_PSI = 8.0
ROPES = ("left", "right", "tail")

PART = Part(
    controls={
        "gear.parking_brake": "set",
        "gear.brake_pedal.left": 0.0,
        "gear.brake_pedal.right": 0.0,
        "gear.chocks": "on",
    },
    drives={
        "gear.brake_pressure.left": PARKED_PSI,
        "gear.brake_pressure.right": PARKED_PSI,
        "gear.tiller": 0.0,
    },
)


class Wheels:
    """`braking` is 0 to 1, `nose_deg` the angle of the nose wheel."""

    def __init__(self, panel: Panel) -> None:
        self._panel = panel
        self.braking = 1.0
        self.nose_deg = 0.0

    def step(self, dt_s: float) -> None:
        """Advance brakes and nose wheel."""
        panel, numbers = self._panel, self._panel.numbers
        parked = PARKED_PSI if panel.switch["gear.parking_brake"] == "set" else 0.0
        total = 0.0
        for side in ("left", "right"):
            pressed = max(parked, PEDAL_PSI * panel.dial[f"gear.brake_pedal.{side}"])
            name = f"gear.brake_pressure.{side}"
            numbers[name] = clamp(slew(numbers[name], pressed, 4000.0, dt_s), 0.0, 1900.0)
            total += numbers[name]
        self.braking = clamp(total / (2.0 * PEDAL_PSI * 100.0), 0.0, 1.0)
        wanted_deg = NOSE_DEG_PER_PEDAL * panel.numbers["controls.pedals"]
        on_ground = panel.words["flight.on_ground"] == "yes"
        self.nose_deg = slew(self.nose_deg, clamp(wanted_deg, -32.0, 32.0) if on_ground else 0.0, 60.0, dt_s)
        numbers["gear.tiller"] = self.nose_deg

    @property
    def moored(self) -> bool:
        """True while chocks or a rope hold the aeroplane."""
        switch = self._panel.switch
        roped = any(switch[f"parking.tie_down.{rope}"] == "on" for rope in ROPES)
        return roped or switch["gear.chocks"] == "on"
