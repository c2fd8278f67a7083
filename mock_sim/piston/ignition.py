"""Ignition and starter: key switch, two magnetos with their faults, a starter that heats up.

A magneto that is switched off is grounded; one whose ground wire is broken fires at every key position, so that there is no
drop (FAA-H-8083-25 chapter 7).

Takes: key, faults, bus.  Gives: the firing magnetos, and the starter's rotation.
"""

from __future__ import annotations

from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.piston.electrical import Electrical

SIDES = ("left", "right")
FIRING = {"off": (), "left": ("left",), "right": ("right",), "both": SIDES, "start": SIDES}
SPEED_FRACTION = {("left",): 0.956, ("right",): 0.95, SIDES: 1.0}
"""Share of the engine speed on these magnetos: about 79 and 90 rpm lost of 1 800."""
FAULTS = ("none", "dead", "ungrounded")
STARTER_A = 85.0
HOTTEST_S = 75.0
COOL_S = 240.0

PART = Part(
    controls={
        "engine.1.magnetos": "off",
        **{f"fault.magneto.{side}": "none" for side in SIDES},
        "fault.starter": "none",
    },
    drives={"engine.1.starter": "off"},
    extra=(
        *(
            choice_control(f"fault.magneto.{side}", FAULTS, f"What is wrong with the {side} magneto")
            for side in SIDES
        ),
        choice_control(
            "fault.starter", ("none", "stuck"), "The starter keeps turning after the key is released"
        ),
    ),
)


class Ignition:
    """`firing` holds the magnetos that give sparks; `cranking` is True while the starter turns the engine."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical
        self._heat_s = 0.0
        self._tripped = False
        self.firing: tuple[str, ...] = ()
        self.cranking = False

    def step(self, dt_s: float) -> None:
        """Advance the starter, and update the firing magnetos."""
        panel = self._panel
        key = panel.switch["engine.1.magnetos"]
        self.firing = tuple(side for side in SIDES if self._magneto_fires(side, key))
        stuck = self.cranking and panel.switch["fault.starter"] == "stuck"
        wanted = (key == "start" or stuck) and self._electrical.powered
        self._heat_starter(dt_s, turning=wanted and not self._tripped)
        self.cranking = wanted and not self._tripped
        if self.cranking:
            self._electrical.draw(STARTER_A)
        panel.words["engine.1.starter"] = "on" if self.cranking else "off"

    @property
    def speed_fraction(self) -> float:
        """Return the share of the engine speed that the sparks allow; 0 without any."""
        return SPEED_FRACTION.get(self.firing, 0.0)

    def _magneto_fires(self, side: str, key: str) -> bool:
        """Return True if a magneto fires at this key position."""
        fault = self._panel.switch[f"fault.magneto.{side}"]
        return fault != "dead" and (fault == "ungrounded" or side in FIRING[key])

    def _heat_starter(self, dt_s: float, *, turning: bool) -> None:
        """Stop a starter that turned too long, until it has cooled."""
        self._heat_s += dt_s if turning else -dt_s * HOTTEST_S / COOL_S
        self._heat_s = min(HOTTEST_S, max(0.0, self._heat_s))
        if self._heat_s >= HOTTEST_S:
            self._tripped = True
        elif self._heat_s < 0.6 * HOTTEST_S:
            self._tripped = False
