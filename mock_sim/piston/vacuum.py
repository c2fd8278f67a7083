"""Suction from an engine-driven pump, and the two gyros that it drives.

Takes: engine speed, fault.  Gives: suction, its light, the speed of the gyros.
"""

from __future__ import annotations

from math import exp

from mock_sim.common.dynamics import clamp, fraction_between, lag
from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.piston.electrical import Electrical

FULL_INHG = 5.1
LOW_INHG = 3.0
SPIN_UP_S = 40.0
RUN_DOWN_S = 200.0

PART = Part(
    controls={"fault.vacuum": "none"},
    drives={"vacuum.suction": 0.0, "alert.vacuum": "off"},
    extra=(choice_control("fault.vacuum", ("none", "failed"), "The vacuum pump gives nothing"),),
)


class Vacuum:
    """`spin` is the gyro speed as a share, 0 to 1."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical
        self.spin = 0.0

    def step(self, dt_s: float) -> None:
        """Advance suction and gyros."""
        panel, numbers = self._panel, self._panel.numbers
        works = panel.switch["fault.vacuum"] == "none"
        pulls = FULL_INHG * (1.0 - exp(-numbers["engine.1.rpm"] / 570.0)) if works else 0.0
        numbers["vacuum.suction"] = clamp(lag(numbers["vacuum.suction"], pulls, 1.2, dt_s), 0.0, 9.5)
        driven = fraction_between(numbers["vacuum.suction"], 1.0, 3.3)
        time_s = SPIN_UP_S if driven > self.spin else RUN_DOWN_S
        self.spin = lag(self.spin, driven, time_s, dt_s)
        lit = self._electrical.powered and numbers["vacuum.suction"] < LOW_INHG
        panel.words["alert.vacuum"] = "on" if lit else "off"
