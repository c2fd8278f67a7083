"""Lights and signs: a lamp shines while it is switched on and has power.

Takes: light switches, buses.  Gives: the lamps that shine.
"""

from __future__ import annotations

from mock_sim.common.panel import Panel, Part
from mock_sim.twin_jet.electrical import Electrical

BUS = {
    "lights.beacon": "1",
    "lights.strobe": "2",
    "lights.navigation": "1",
    "lights.taxi": "2",
    "lights.turnoff.left": "1",
    "lights.turnoff.right": "2",
    "lights.landing.left": "1",
    "lights.landing.right": "2",
    "lights.logo": "2",
    "lights.wing": "1",
    "lights.seat_belts": "1",
    "lights.no_smoking": "1",
}

PART = Part(
    controls={**dict.fromkeys(BUS, "off"), "lights.panel": 0.0},
    drives={**dict.fromkeys(BUS, "off"), "lights.panel": 0.0},
)


class LightsSigns:
    """All lamps."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical

    def step(self, dt_s: float) -> None:  # noqa: ARG002 - a lamp has no memory
        """Update all lamps."""
        panel, ac = self._panel, self._electrical.ac
        for name, bus in BUS.items():
            panel.words[name] = panel.switch[name] if ac[bus] else "off"
        lit = self._electrical.any_dc
        panel.numbers["lights.panel"] = panel.dial["lights.panel"] if lit else 0.0
