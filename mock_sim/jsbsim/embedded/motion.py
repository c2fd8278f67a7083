"""Motion by the library: our controls go in, and every `flight.*` signal comes out.

Takes: surfaces, flaps, gear, brakes, steering, tug, and the rates that autopilot or controls command.  Gives: every `flight.*` signal.
"""

from __future__ import annotations

from itertools import pairwise
from math import atan2, degrees, hypot, isfinite

from mock_sim.common.dynamics import clamp
from mock_sim.common.panel import Panel
from mock_sim.jsbsim.embedded.aircraft import FPS_KT, JsbsimAircraft
from mock_sim.jsbsim.embedded.control_laws import FlightControlLaws
from mock_sim.jsbsim.embedded.flight_model import STEPS_A_SECOND
from mock_sim.jsbsim.embedded.model_file import MOST_STEER_DEG, TUG_LBS
from mock_sim.twin_jet.airports import elevation_ft
from mock_sim.twin_jet.autoflight import Autoflight
from mock_sim.twin_jet.gear_brakes import GearBrakes
from mock_sim.twin_jet.motion import START_HEADING

INNER_STEPS = 4
FLAPS_DEG = ((0.0, 0.0), (4.0, 3.0), (8.0, 8.0), (20.0, 11.0), (28.0, 15.0), (36.0, 18.0))
"""Flaps of the Halyard and of the stock model that give about the same lift; the model's lift by 0.05 a degree."""
AUTOPILOT_GAIN = 2.0
"""The library's aeroplane responds later than ours, so its autopilot must command more."""
MAX_BRAKE = 0.75
TUG_LBS_FPS, MAX_TUG_LBS = 4000.0, 9000.0
LOAD_EVERY_S = 1.0
SLOW_FPS, FAST_KT = 1.0, 30.0
"""Below the first there is no track; below the second no angle of attack and no sideslip."""


class JsbsimMotion:
    """Position and motion of the aeroplane."""

    def __init__(
        self, panel: Panel, aircraft: JsbsimAircraft, gear: GearBrakes, autoflight: Autoflight
    ) -> None:
        self._panel = panel
        self._aircraft = aircraft
        self._gear = gear
        self._autoflight = autoflight
        self._control_laws = FlightControlLaws(aircraft)
        self._unloaded_s = 0.0
        self._due_steps = 0.0
        aircraft.place(START_HEADING)

    def place(self, latitude: float, longitude: float, heading_deg: float) -> None:
        """Put the aeroplane at another position on the field, stopped.

        Args:
            latitude: degrees, north positive.
            longitude: degrees, east positive.
            heading_deg: heading of the nose.
        """
        numbers = self._panel.numbers
        numbers["flight.latitude"], numbers["flight.longitude"] = latitude, longitude
        self._aircraft.place(heading_deg % 360.0)

    def step(self, dt_s: float) -> None:
        """Run the library for a while and publish the result."""
        self._send_slow_inputs(dt_s)
        self._due_steps += dt_s * STEPS_A_SECOND
        steps = int(self._due_steps + 1e-6)
        self._due_steps -= steps
        while steps > 0:
            some = min(INNER_STEPS, steps)
            self._send_fast_inputs(some / STEPS_A_SECOND)
            self._aircraft.run(some)
            steps -= some
        self._publish_place()
        self._publish_motion()

    def _send_slow_inputs(self, dt_s: float) -> None:
        """Send inputs that change slowly: air, mass, flaps, gear, brakes."""
        aircraft, numbers = self._aircraft, self._panel.numbers
        aircraft.update_environment()
        self._unloaded_s += dt_s
        if self._unloaded_s >= LOAD_EVERY_S:
            aircraft.update_mass()
            self._unloaded_s = 0.0
        aircraft["fcs/flap-cmd-norm"] = model_flaps_deg(numbers["controls.flap.position"]) / 30.0
        aircraft["gear/gear-cmd-norm"] = numbers["gear.left.position"] / 100.0
        spoilers = numbers["controls.spoiler.left"] + numbers["controls.spoiler.right"]
        aircraft["fcs/speedbrake-cmd-norm"] = spoilers / 200.0
        chocks = self._panel.switch["gear.chocks"] == "on"
        for side in ("left", "right"):
            aircraft[f"fcs/{side}-brake-cmd-norm"] = 1.0 if chocks else MAX_BRAKE * self._gear.braking
        aircraft["fcs/steer-cmd-norm"] = clamp(self._gear.nose_deg / MOST_STEER_DEG, -1.0, 1.0)

    def _send_fast_inputs(self, dt_s: float) -> None:
        """Send inputs that must be quick: surfaces, and the tug's force."""
        numbers, aircraft = self._panel.numbers, self._aircraft
        rudder = numbers["controls.rudder"]
        if self._on_ground():
            self._control_laws.direct(numbers["controls.elevator"], numbers["controls.aileron"], rudder)
            aircraft[TUG_LBS] = self._tug_lbs()
            return
        trimmed = clamp(1.0 + 0.1 * (numbers["controls.stabiliser_trim"] - 5.0), 0.2, 1.8)
        elevator = clamp(trimmed * numbers["controls.elevator"] / 100.0, -1.0, 1.0)
        pitch = self._autoflight.pitch_rate(aircraft["attitude/theta-deg"], 4.5 * elevator)
        pitch *= AUTOPILOT_GAIN if self._autoflight.engaged else 1.0
        bank = self._autoflight.bank_rate(aircraft["attitude/phi-deg"], 0.15 * numbers["controls.aileron"])
        self._control_laws.command_rates(pitch, bank, rudder, dt_s)

    def _tug_lbs(self) -> float:
        """Return the tug's force towards its speed."""
        if self._panel.switch["gear.tug"] != "attached" or self._gear.is_held:
            return 0.0
        off = self._panel.dial["tug.speed"] * FPS_KT - self._aircraft["velocities/u-fps"]
        return clamp(TUG_LBS_FPS * off, -MAX_TUG_LBS, MAX_TUG_LBS)

    def _on_ground(self) -> bool:
        """Return True while a main wheel carries weight."""
        return self._aircraft["gear/unit[1]/WOW"] > 0.5 or self._aircraft["gear/unit[2]/WOW"] > 0.5

    def _publish_place(self) -> None:
        """Publish position, height and attitude."""
        aircraft, put = self._aircraft, self._publish_number
        ground = self._on_ground()
        self._panel.words["flight.on_ground"] = "yes" if ground else "no"
        put("flight.latitude", aircraft["position/lat-geod-deg"])
        put("flight.longitude", aircraft["position/long-gc-deg"])
        put(
            "flight.height",
            0.0 if ground else max(0.0, aircraft["position/h-agl-ft"] - aircraft.wheels_height_ft),
        )
        numbers = self._panel.numbers
        below_ft = elevation_ft(numbers["flight.latitude"], numbers["flight.longitude"])
        put("flight.altitude", numbers["flight.height"] + below_ft)
        put("flight.heading", aircraft["attitude/psi-deg"] % 360.0)
        put("flight.pitch", aircraft["attitude/theta-deg"])
        put("flight.bank", aircraft["attitude/phi-deg"])

    def _publish_motion(self) -> None:
        """Publish speeds, track and loads."""
        aircraft, put, numbers = self._aircraft, self._publish_number, self._panel.numbers
        ground = self._panel.words["flight.on_ground"] == "yes"
        north, east = aircraft["velocities/v-north-fps"], aircraft["velocities/v-east-fps"]
        speed = hypot(north, east)
        put(
            "flight.track",
            degrees(atan2(east, north)) % 360.0 if speed > SLOW_FPS else numbers["flight.heading"],
        )
        put("flight.ground_speed", speed / FPS_KT)
        put("flight.wheel_speed", speed / FPS_KT if ground else 0.0)
        put("flight.airspeed", aircraft["velocities/vc-kts"])
        put("flight.mach", aircraft["velocities/mach"])
        put("flight.vertical_speed", 0.0 if ground else 60.0 * aircraft["velocities/h-dot-fps"])
        put("flight.normal_load", aircraft["accelerations/Nz"])
        fast = numbers["flight.airspeed"] > FAST_KT
        put("flight.angle_of_attack", aircraft["aero/alpha-deg"] if fast else 0.0)
        put("flight.slip", aircraft["aero/beta-deg"] if fast else 0.0)

    def _publish_number(self, name: str, value: float) -> None:
        """Publish a number within the book's range; ignore one that is not finite."""
        signal = self._panel.signals[name]
        if isfinite(value):
            self._panel.numbers[name] = clamp(value, signal.low, signal.high)


def model_flaps_deg(flaps_deg: float) -> float:
    """Return the stock model's flap angle for the Halyard's.

    Args:
        flaps_deg: flap position of the Halyard, degrees.
    """
    for (low, from_deg), (high, to_deg) in pairwise(FLAPS_DEG):
        if flaps_deg <= high:
            return from_deg + (to_deg - from_deg) * (flaps_deg - low) / (high - low)
    return FLAPS_DEG[-1][1]
