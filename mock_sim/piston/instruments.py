"""Instruments: airspeed, altimeter, gyros, compass, turn coordinator, transponder, receivers, and their lights.

The altimeter and the airspeed indicator need no power; the gyros need suction; equipment on an avionics bus reads off without it.

Takes: the motion, covers, heat, suction, power, settings.  Gives: the indications.
"""

from __future__ import annotations

from math import radians, sin

from mock_sim.common.atmosphere import STANDARD_HPA, standard_height_ft
from mock_sim.common.dynamics import clamp, fraction_between, lag
from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.piston.airfield import ELEVATION_FT, STAND_DEG
from mock_sim.piston.electrical import Electrical
from mock_sim.piston.vacuum import Vacuum

MIN_AIRSPEED_KT = 25.0
DRIFT_DEG_S = 3.0 / 900.0
"""A heading indicator drifts some degrees in a quarter of an hour (FAA-H-8083-15, from memory)."""
PARKED_ERROR_DEG = 47.0
STALL_DEG = 12.0
STALL_KT = 25.0
SATELLITES_S = 35.0
FREEZES_S = 150.0
LOW_OIL_PSI = 18.0
STATION_IDENTS = {112.30: "HMD", 114.70: "OSK"}
LIGHTS = (
    "alert.oil_pressure",
    "alert.vacuum",
    "alert.fuel.left",
    "alert.fuel.right",
    "electrical.low_voltage",
)

PART = Part(
    controls={
        "altimeter.captain.setting": STANDARD_HPA,
        "heading.align": "no",
        "static.alternate": "closed",
        "transponder.mode": "off",
        "transponder.code": 2000.0,
        "navigation.frequency.1": 112.3,
        "navigation.frequency.2": 108.0,
        "navigation.course.1": 312.0,
        "navigation.course.2": 0.0,
        "autoflight.heading": 0.0,
        "speeds.vr": 0.0,
        "speeds.vref": 0.0,
        "clock.chronometer.left": "stopped",
        "clock.set": "no",
        "alert.test": "off",
        "ice.pitot": "off",
    },
    drives={
        "altimeter.captain.altitude": ELEVATION_FT,
        "airspeed.captain": 0.0,
        "heading.captain": (STAND_DEG + PARKED_ERROR_DEG) % 360.0,
        "heading.standby": STAND_DEG,
        "attitude.pitch": 0.0,
        "attitude.bank": 0.0,
        "turn.rate": 0.0,
        "turn.ball": 0.0,
        "transponder.mode": "off",
        "navigation.ident.1": "",
        "navigation.ident.2": "",
        "navigation.satellite": "no",
        "alert.stall": "off",
        "alert.oil_pressure": "off",
        "alert.test": "off",
        "ice.pitot": "off",
        "autoflight.pilot.1": "off",
    },
    extra=(
        choice_control(
            "heading.align", ("no", "yes"), "The pilot turns the heading indicator to the compass"
        ),
    ),
)


class Instruments:
    """The pilot's indications."""

    def __init__(self, panel: Panel, electrical: Electrical, vacuum: Vacuum) -> None:
        self._panel = panel
        self._electrical = electrical
        self._vacuum = vacuum
        self._error_deg = PARKED_ERROR_DEG
        self._frozen = 0.0
        self._static_ft = ELEVATION_FT
        self._received_s = 0.0
        self._last_heading_deg = STAND_DEG

    def step(self, dt_s: float) -> None:
        """Update all indications."""
        self._pitot(dt_s)
        self._altimeter()
        self._headings(dt_s)
        self._gyros(dt_s)
        self._update_avionics(dt_s)
        self._warnings()

    def _pitot(self, dt_s: float) -> None:
        """Update the airspeed, unless a cover or ice blocks the probe."""
        panel, numbers = self._panel, self._panel.numbers
        heated = self._electrical.supplies("pitot_heat") and panel.switch["ice.pitot"] == "on"
        if heated:
            self._electrical.draw(7.0)
        panel.words["ice.pitot"] = "on" if heated else "off"
        icing = panel.words["weather.visible_moisture"] == "yes"
        icing = icing and numbers["flight.outside_air_temperature"] < 3.0 and not heated
        self._frozen = clamp(self._frozen + (dt_s if icing else -5.0 * dt_s) / FREEZES_S, 0.0, 1.0)
        free = 0.0 if panel.switch["parking.pitot_cover"] == "on" else 1.0 - self._frozen
        leak = 2.0 if panel.switch["static.alternate"] == "open" else 0.0
        speed = (numbers["flight.airspeed"] + leak) * free
        numbers["airspeed.captain"] = clamp(speed, 0.0, 249.0) if speed >= MIN_AIRSPEED_KT else 0.0

    def _altimeter(self) -> None:
        """Update the altitude above the selected pressure level; the alternate source reads a little high."""
        panel, numbers = self._panel, self._panel.numbers
        if panel.switch["parking.static_cover"] == "removed" or panel.switch["static.alternate"] == "open":
            self._static_ft = numbers["flight.pressure_altitude"]  # a cover keeps the pressure in
        shown = self._static_ft - standard_height_ft(panel.dial["altimeter.captain.setting"])
        shown += 30.0 if panel.switch["static.alternate"] == "open" else 0.0
        numbers["altimeter.captain.altitude"] = clamp(shown, -2000.0, 29900.0)

    def _headings(self, dt_s: float) -> None:
        """Update compass and gyro: the compass is slow and has a deviation; the gyro drifts, more when it turns slowly."""
        panel, numbers = self._panel, self._panel.numbers
        true = numbers["flight.heading"]
        deviated = true + 1.2 * sin(radians(true - 30.0))
        off = (deviated - numbers["heading.standby"] + 180.0) % 360.0 - 180.0
        numbers["heading.standby"] = (numbers["heading.standby"] + off * min(1.0, dt_s / 1.5)) % 360.0
        wander = DRIFT_DEG_S + 0.05 * (1.0 - self._vacuum.spin)
        self._error_deg += wander * dt_s if numbers["engine.1.rpm"] > 0.0 or self._vacuum.spin > 0.01 else 0.0
        if panel.switch["heading.align"] == "yes":
            self._error_deg = numbers["heading.standby"] - true
            panel.move("heading.align", "no")
        numbers["heading.captain"] = (true + self._error_deg) % 360.0

    def _gyros(self, dt_s: float) -> None:
        """Update attitude, which leans while its gyro is slow, and the electric turn coordinator."""
        numbers, spin = self._panel.numbers, self._vacuum.spin
        tilt = 1.0 - fraction_between(spin, 0.0, 0.8)
        numbers["attitude.pitch"] = clamp(numbers["flight.pitch"] * (1.0 - tilt) - 4.0 * tilt, -89.0, 89.0)
        numbers["attitude.bank"] = clamp(numbers["flight.bank"] * (1.0 - tilt) + 11.0 * tilt, -179.0, 179.0)
        turned = (numbers["flight.heading"] - self._last_heading_deg + 180.0) % 360.0 - 180.0
        self._last_heading_deg = numbers["flight.heading"]
        rate = turned / dt_s if self._electrical.powered and dt_s > 0.0 else 0.0
        numbers["turn.rate"] = clamp(lag(numbers["turn.rate"], rate, 0.5, dt_s), -29.0, 29.0)
        numbers["turn.ball"] = clamp(-numbers["flight.slip"] / 6.0, -1.9, 1.9)

    def _update_avionics(self, dt_s: float) -> None:
        """Update transponder, receivers and satellites on their buses."""
        panel, numbers = self._panel, self._panel.numbers
        first, second = self._electrical.avionics("1"), self._electrical.avionics("2")
        panel.words["transponder.mode"] = panel.switch["transponder.mode"] if second else "off"
        for k, on in (("1", first), ("2", second)):
            tuned = round(numbers[f"navigation.frequency.{k}"], 2)
            panel.words[f"navigation.ident.{k}"] = STATION_IDENTS.get(tuned, "") if on else ""
        self._received_s = self._received_s + dt_s if first else 0.0
        panel.words["navigation.satellite"] = "yes" if self._received_s > SATELLITES_S else "no"

    def _warnings(self) -> None:
        """Update stall horn, oil light and the light test."""
        panel, numbers = self._panel, self._panel.numbers
        near = numbers["flight.angle_of_attack"] > STALL_DEG and numbers["flight.airspeed"] > STALL_KT
        panel.words["alert.stall"] = "on" if near else "off"
        live = self._electrical.powered
        panel.words["alert.oil_pressure"] = (
            "on" if live and numbers["engine.1.oil_pressure"] < LOW_OIL_PSI else "off"
        )
        testing = live and panel.switch["alert.test"] == "on"
        panel.words["alert.test"] = "on" if testing else "off"
        for name in LIGHTS if testing else ():
            panel.words[name] = "on"
