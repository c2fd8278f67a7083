"""Flight controls: surfaces by cables, trim wheels, electric flaps, the control lock.

Takes: yoke, pedals, levers, lock, power for the flaps.  Gives: the position of each surface.
"""

from __future__ import annotations

from mock_sim.common.dynamics import lag, slew
from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.piston.electrical import Electrical

FLAP_DETENTS = (0.0, 8.0, 16.0, 28.0)
FLAP_RATE = 4.0
SURFACES = {"elevator": "column", "aileron": "wheel", "rudder": "pedals"}
TRIM_RATE = {"controls.elevator_trim": 12.0, "controls.rudder_trim": 4.0}

PART = Part(
    controls={
        "controls.column": 0.0,
        "controls.wheel": 0.0,
        "controls.pedals": 0.0,
        "controls.lock": "on",
        "controls.elevator_trim": 12.0,
        "controls.rudder_trim": 0.0,
        "controls.flap.lever": 0.0,
        "fault.flaps": "none",
    },
    drives={
        **{f"controls.{name}": 0.0 for pair in SURFACES.items() for name in pair},
        "controls.elevator_trim": 12.0,
        "controls.rudder_trim": 0.0,
        "controls.flap.position": 0.0,
    },
    extra=(choice_control("fault.flaps", ("none", "stuck"), "The flap motor does not turn"),),
    detents={"controls.flap.lever": FLAP_DETENTS},
)


class Controls:
    """All moving surfaces of wing and tail."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical

    def step(self, dt_s: float) -> None:
        """Advance surfaces, trims and flaps."""
        panel, numbers = self._panel, self._panel.numbers
        locked = panel.switch["controls.lock"] == "on"
        for surface, control in SURFACES.items():
            free = surface == "rudder" or not locked  # the pin goes through the yoke only
            held = numbers[f"controls.{control}"] = panel.dial[f"controls.{control}"] if free else 0.0
            numbers[f"controls.{surface}"] = lag(numbers[f"controls.{surface}"], held, 0.15, dt_s)
        for name, rate in TRIM_RATE.items():
            numbers[name] = slew(numbers[name], panel.dial[name], rate, dt_s)
        self._flaps(dt_s)

    def _flaps(self, dt_s: float) -> None:
        """Move the flaps to their lever while the motor has power."""
        panel, name = self._panel, "controls.flap.position"
        before, target = panel.numbers[name], panel.dial["controls.flap.lever"]
        if (
            before == target
            or not self._electrical.supplies("flaps")
            or panel.switch["fault.flaps"] == "stuck"
        ):
            return
        self._electrical.draw(8.0)
        panel.numbers[name] = slew(before, target, FLAP_RATE, dt_s)
