"""Instruments: altimeters, airspeeds, headings, radio height, transponder, inertial references, receivers.

AC bus 1 supplies the captain's side, AC bus 2 the first officer's, the essential bus the standby instruments.  Without
power an instrument reads zero.  Inertial alignment takes a minute here; a real one takes several.

Takes: the motion, settings, power.  Gives: the indications of each pilot.
"""

from __future__ import annotations

from mock_sim.common.atmosphere import STANDARD_HPA, standard_height_ft
from mock_sim.common.dynamics import clamp
from mock_sim.common.panel import Panel, Part
from mock_sim.twin_jet.airports import RUNWAYS
from mock_sim.twin_jet.electrical import Electrical
from mock_sim.twin_jet.guidance import ils_deviations

ALIGN_S = 60.0
SEATS = ("captain", "first_officer", "standby")
PILOTS = ("captain", "first_officer")
NEEDLES = ("navigation.localizer", "navigation.glide_path")
REFERENCE = {"captain": "left", "first_officer": "right"}
MIN_AIRSPEED_KT = 30.0
STATION_IDENTS = {**{end.ils_mhz: end.ils_ident for end in RUNWAYS}, 113.90: "LDM"}

PART = Part(
    controls={
        **{f"altimeter.{seat}.setting": 1013.25 for seat in SEATS},
        **{f"altimeter.{seat}.standard": "no" for seat in PILOTS},
        "transponder.mode": "standby",
        "transponder.code": 2000.0,
        "parking.pitot_cover": "removed",
        "parking.static_cover": "removed",
        "inertial.left.mode": "off",
        "inertial.right.mode": "off",
        "navigation.frequency.1": 108.0,
        "navigation.frequency.2": 108.0,
        "weather_radar": "off",
        "terrain.inhibit": "no",
        "clock.chronometer.left": "stopped",
        "clock.chronometer.right": "stopped",
    },
    drives={
        **{f"altimeter.{seat}.altitude": 0.0 for seat in SEATS},
        **{f"airspeed.{seat}": 0.0 for seat in SEATS},
        **{f"heading.{seat}": 0.0 for seat in SEATS},
        "radio_altitude": 0.0,
        "transponder.mode": "off",
        "inertial.left.aligned": "no",
        "inertial.right.aligned": "no",
        "navigation.ident.1": "",
        "navigation.ident.2": "",
        **dict.fromkeys(NEEDLES, 0.0),
        **{f"{needle}_received": "no" for needle in NEEDLES},
        "weather_radar": "off",
    },
)


class Instruments:
    """The indications for each pilot."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical
        self._aligning_s = {"left": 0.0, "right": 0.0}
        self._static_ft = 0.0

    def step(self, dt_s: float) -> None:
        """Advance the inertial references and update all indications."""
        for side in self._aligning_s:
            self._align(side, dt_s)
        if self._panel.switch["parking.static_cover"] == "removed":  # a cover keeps the pressure in
            self._static_ft = self._panel.numbers["flight.pressure_altitude"]
        for seat in SEATS:
            self._update_side(seat)
        self._update_avionics()

    def _powered(self, seat: str) -> bool:
        """Return True while a seat's instruments have power."""
        if seat == "standby":
            return self._electrical.essential
        return self._electrical.ac["1" if seat == "captain" else "2"]

    def _align(self, side: str, dt_s: float) -> None:
        """Align while the aeroplane is stationary; an alignment lasts while there is power."""
        panel = self._panel
        mode = panel.switch[f"inertial.{side}.mode"]
        powered = self._electrical.any_ac or self._electrical.essential
        done = self._aligning_s[side] >= ALIGN_S
        if mode in ("off", "attitude") or not powered:
            self._aligning_s[side] = 0.0
        elif not done:
            still = panel.numbers["flight.ground_speed"] < 0.5
            self._aligning_s[side] = self._aligning_s[side] + dt_s if still else 0.0
        panel.words[f"inertial.{side}.aligned"] = "yes" if self._aligning_s[side] >= ALIGN_S else "no"

    def _update_side(self, seat: str) -> None:
        """Update altitude, airspeed and heading of one seat."""
        panel, numbers = self._panel, self._panel.numbers
        on = self._powered(seat)
        speed = numbers["flight.airspeed"] if panel.switch["parking.pitot_cover"] == "removed" else 0.0
        numbers[f"airspeed.{seat}"] = speed if on and speed >= MIN_AIRSPEED_KT else 0.0
        numbers[f"altimeter.{seat}.altitude"] = self._altitude(seat) if on else 0.0
        side = REFERENCE.get(seat)
        points = on and (side is None or panel.words[f"inertial.{side}.aligned"] == "yes")
        numbers[f"heading.{seat}"] = numbers["flight.heading"] if points else 0.0

    def _altitude(self, seat: str) -> float:
        """Return the altitude above the selected pressure level."""
        panel = self._panel
        standard = panel.switch.get(f"altimeter.{seat}.standard") == "yes"
        setting = STANDARD_HPA if standard else panel.numbers[f"altimeter.{seat}.setting"]
        shown = self._static_ft - standard_height_ft(setting)
        return clamp(shown, -2000.0, 60000.0)

    def _update_avionics(self) -> None:
        """Update radio height, transponder, radar and receivers."""
        panel, numbers = self._panel, self._panel.numbers
        live = self._electrical.any_ac
        numbers["radio_altitude"] = clamp(numbers["flight.height"], -20.0, 2500.0) if live else 0.0
        answers = self._electrical.ac["1"] or self._electrical.essential
        panel.words["transponder.mode"] = panel.switch["transponder.mode"] if answers else "off"
        panel.words["weather_radar"] = panel.switch["weather_radar"] if live else "off"
        for k in "12":
            tuned = round(numbers[f"navigation.frequency.{k}"], 2)
            panel.words[f"navigation.ident.{k}"] = STATION_IDENTS.get(tuned, "") if live else ""
        deviations = ils_deviations(panel) if live else (None, None)
        for needle, dots in zip(NEEDLES, deviations, strict=True):
            numbers[needle] = dots or 0.0
            panel.words[f"{needle}_received"] = "no" if dots is None else "yes"
