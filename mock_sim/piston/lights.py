"""Lights: a lamp shines while it is switched on and has power.

Takes: light switches, the main bus.  Gives: the lamps that shine.
"""

from __future__ import annotations

from mock_sim.common.panel import Panel, Part
from mock_sim.piston.electrical import Electrical

AMPERE = {
    "lights.beacon": 2.0,
    "lights.strobe": 3.0,
    "lights.navigation": 3.0,
    "lights.taxi": 5.0,
    "lights.landing.left": 6.0,
}

PART = Part(
    controls={**dict.fromkeys(AMPERE, "off"), "lights.panel": 0.0},
    drives={**dict.fromkeys(AMPERE, "off"), "lights.panel": 0.0},
)


class Lights:
    """All lamps."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical

    def step(self, dt_s: float) -> None:  # noqa: ARG002 - lamps have no memory
        """Update all lamps."""
        panel, live = self._panel, self._electrical.powered
        for name, ampere in AMPERE.items():
            shines = live and panel.switch[name] == "on"
            panel.words[name] = "on" if shines else "off"
            if shines:
                self._electrical.draw(ampere)
        panel.numbers["lights.panel"] = panel.dial["lights.panel"] if live else 0.0
