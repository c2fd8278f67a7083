"""Flight controls: surfaces, trims, flaps, slats, spoilers and the control lock.

Takes: column, wheel, pedals, levers, trim wheels, hydraulic pressure.  Gives: the position of each surface.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, lag, slew
from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.twin_jet.electrical import Electrical
from mock_sim.twin_jet.hydraulics import Hydraulics

FLAP_DETENTS = (0.0, 4.0, 8.0, 12.0, 20.0, 28.0, 36.0)
FLAP_RATE = 1.5
FLAP_STANDBY_RATE = 0.4
SLAT_RATE = 0.2
TRIM_RATE = 0.4
MANUAL_TRIM_RATE = 0.15
MANUAL_FRACTION = {"elevator": 0.7, "aileron": 0.7, "rudder": 0.4}
SURFACES = {"elevator": "column", "aileron": "wheel", "rudder": "pedals"}
SPOILER_OF_LEVER = {"stowed": 0.0, "armed": 0.0, "half": 45.0, "full": 100.0}

PART = Part(
    controls={
        "controls.column": 0.0,
        "controls.wheel": 0.0,
        "controls.pedals": 0.0,
        "controls.lock": "off",
        "controls.stabiliser_trim": 4.0,
        "controls.trim_isolate": "normal",
        "controls.rudder_trim": 0.0,
        "controls.aileron_trim": 0.0,
        "controls.flap.lever": 0.0,
        "controls.flap.standby_drive": "off",
        "controls.speedbrake.lever": "stowed",
        "controls.supply.elevator": "normal",
        "controls.supply.aileron": "normal",
        "controls.supply.rudder": "normal",
        "fault.flaps": "none",
    },
    drives={
        "controls.column": 0.0,
        "controls.wheel": 0.0,
        "controls.pedals": 0.0,
        "controls.elevator": 0.0,
        "controls.aileron": 0.0,
        "controls.rudder": 0.0,
        "controls.stabiliser_trim": 4.0,
        "controls.rudder_trim": 0.0,
        "controls.aileron_trim": 0.0,
        "controls.flap.position": 0.0,
        "controls.slat.position": "retracted",
        "controls.flap.asymmetry": "no",
        "controls.spoiler.left": 0.0,
        "controls.spoiler.right": 0.0,
    },
    extra=(choice_control("fault.flaps", ("none", "asymmetry"), "One flap stops while the other moves on"),),
    detents={"controls.flap.lever": FLAP_DETENTS},
)


def slat_target(flap_lever_deg: float) -> float:
    """Return the slat position for a flap lever: 0 in, 1 extended, 2 full.

    Args:
        flap_lever_deg: position of the flap lever, degrees.
    """
    return 0.0 if flap_lever_deg <= 0.0 else 1.0 if flap_lever_deg <= 12.0 else 2.0


class Controls:
    """All moving surfaces of wing and tail."""

    def __init__(self, panel: Panel, electrical: Electrical, hydraulics: Hydraulics) -> None:
        self._panel = panel
        self._electrical = electrical
        self._hydraulics = hydraulics
        self._slat = 0.0

    def step(self, dt_s: float) -> None:
        """Advance surfaces, trims, flaps and spoilers."""
        self._surfaces(dt_s)
        self._trims(dt_s)
        self._flaps(dt_s)
        self._slats(dt_s)
        self._spoilers(dt_s)

    def _surfaces(self, dt_s: float) -> None:
        """Move the surfaces with the controls; only part of the way without hydraulics; the lock holds them."""
        panel, numbers = self._panel, self._panel.numbers
        locked = panel.switch["controls.lock"] == "on"
        pressed = self._hydraulics.works("1") or self._hydraulics.works("2")
        for surface, control in SURFACES.items():
            held = numbers[f"controls.{control}"] = 0.0 if locked else panel.dial[f"controls.{control}"]
            full = pressed and panel.switch[f"controls.supply.{surface}"] == "normal"
            target = held * (1.0 if full else MANUAL_FRACTION[surface])
            name = f"controls.{surface}"
            before = numbers[name]
            numbers[name] = lag(before, target, 0.15, dt_s)
            if full and abs(target - before) > 5.0:
                self._draw_hydraulics(0.15)

    def _draw_hydraulics(self, share: float) -> None:
        """Draw on both hydraulic systems."""
        for k in "12":
            self._hydraulics.demand[k] += share

    def _trims(self, dt_s: float) -> None:
        """Run the stabiliser electrically, or slowly by hand; the other trims need their motors."""
        panel = self._panel
        motor = self._electrical.any_ac and panel.switch["controls.trim_isolate"] == "normal"
        self._run_trim("stabiliser_trim", TRIM_RATE if motor else MANUAL_TRIM_RATE, dt_s)
        if self._electrical.any_ac:
            self._run_trim("rudder_trim", 1.0, dt_s)
            self._run_trim("aileron_trim", 1.0, dt_s)

    def _run_trim(self, trim: str, rate: float, dt_s: float) -> None:
        """Move a trim towards its target."""
        name = f"controls.{trim}"
        numbers = self._panel.numbers
        numbers[name] = slew(numbers[name], self._panel.dial[name], rate, dt_s)

    def _rate_fraction(self) -> float:
        """Return the speed of flaps and slats as a share of their full rate."""
        if self._hydraulics.works("2"):
            return 1.0
        spare = self._panel.switch["controls.flap.standby_drive"] == "on" and self._electrical.ac["2"]
        return FLAP_STANDBY_RATE / FLAP_RATE if spare else 0.0

    def _flaps(self, dt_s: float) -> None:
        """Move the flaps towards the lever."""
        numbers, target = self._panel.numbers, self._panel.dial["controls.flap.lever"]
        before = numbers["controls.flap.position"]
        split = self._panel.words["controls.flap.asymmetry"] == "yes"
        after = before if split else slew(before, target, FLAP_RATE * self._rate_fraction(), dt_s)
        numbers["controls.flap.position"] = after
        self._detect_asymmetry(moving=after != before)
        if after != before:
            self._hydraulics.demand["2"] += 0.4

    def _detect_asymmetry(self, *, moving: bool) -> None:
        """Stop flaps that move apart, until the fault is cleared."""
        broken = self._panel.switch["fault.flaps"] == "asymmetry"
        name = "controls.flap.asymmetry"
        if not broken:
            self._panel.words[name] = "no"
        elif moving:
            self._panel.words[name] = "yes"

    def _slats(self, dt_s: float) -> None:
        """Move the slats towards the position for the flap lever."""
        target = slat_target(self._panel.dial["controls.flap.lever"])
        self._slat = slew(self._slat, target, SLAT_RATE * self._rate_fraction(), dt_s)
        positions = {0.0: "retracted", 1.0: "extended", 2.0: "full"}
        word = positions.get(self._slat, "transit") if self._slat == target else "transit"
        if not self._rate_fraction() and self._slat != target:
            word = positions.get(self._slat, "transit")
        self._panel.words["controls.slat.position"] = word

    def _spoilers(self, dt_s: float) -> None:
        """Move speedbrake and roll spoilers; armed spoilers deploy on wheel spin-up with idle thrust."""
        panel, numbers = self._panel, self._panel.numbers
        self._deploy_automatically()
        base = SPOILER_OF_LEVER[panel.switch["controls.speedbrake.lever"]]
        if base > 70.0 and panel.words["flight.on_ground"] == "no":
            base = 70.0
        wheel = numbers["controls.wheel"]
        for side, down in (("left", -wheel), ("right", wheel)):
            name = f"controls.spoiler.{side}"
            target = clamp(base + 0.6 * max(0.0, down - 15.0), 0.0, 100.0)
            if self._hydraulics.works("1") or self._hydraulics.works("2"):
                numbers[name] = slew(numbers[name], target, 80.0, dt_s)

    def _deploy_automatically(self) -> None:
        """Drive an armed lever to full on landing or on a rejected take-off."""
        panel = self._panel
        landed = panel.words["flight.on_ground"] == "yes" and panel.numbers["flight.wheel_speed"] > 60.0
        closed = all(panel.dial[f"engine.{k}.thrust_lever"] <= 0.0 for k in "12")
        lever = "controls.speedbrake.lever"
        if panel.switch[lever] == "armed" and landed and closed and self._electrical.any_dc:
            panel.move(lever, "full")
