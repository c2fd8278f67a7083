"""Motion on the ground and in flight, in simplified mechanics.

On the ground: one speed along the nose, by a tug or own power, and turns by the nose wheel.  In flight: a point mass with
lift, drag and thrust that turns with bank.  Accurate enough for procedures, not for performance.

Takes: thrust, brakes, steering, surfaces, flaps, air.  Gives: every `flight.*` signal.
"""

from __future__ import annotations

from math import atan2, cos, degrees, hypot, radians, sin
from typing import Protocol

from mock_sim.common.atmosphere import FT_M, KT_MS, calibrated_kt, mach
from mock_sim.common.dynamics import clamp, lag
from mock_sim.common.forces import GRAVITY, Forces
from mock_sim.common.panel import Panel, Part, System
from mock_sim.common.rolling import turn_rate
from mock_sim.common.world import World
from mock_sim.twin_jet.airframe import Airframe
from mock_sim.twin_jet.airports import FIELD_ELEVATION_FT, START_LATITUDE, START_LONGITUDE, elevation_ft
from mock_sim.twin_jet.autoflight import Autoflight
from mock_sim.twin_jet.gear_brakes import GearBrakes
from mock_sim.twin_jet.ground_roll import WHEELBASE_M, ground_roll_speed_ms

START_HEADING = 233.0
EARTH_M = 6371000.0

PART = Part(
    drives={
        "flight.on_ground": "yes",
        "flight.airspeed": 0.0,
        "flight.ground_speed": 0.0,
        "flight.altitude": FIELD_ELEVATION_FT,
        "flight.height": 0.0,
        "flight.vertical_speed": 0.0,
        "flight.heading": START_HEADING,
        "flight.track": START_HEADING,
        "flight.pitch": 0.0,
        "flight.bank": 0.0,
        "flight.slip": 0.0,
        "flight.angle_of_attack": 0.0,
        "flight.latitude": START_LATITUDE,
        "flight.longitude": START_LONGITUDE,
        "flight.mach": 0.0,
        "flight.normal_load": 1.0,
        "flight.wheel_speed": 0.0,
    },
)


class MotionModel(System, Protocol):
    """Moves an aeroplane: simplified mechanics, or a library."""

    def place(self, latitude: float, longitude: float, heading_deg: float) -> None:
        """Move it to another position on the ground, stopped."""


class Motion:
    """Position and motion of the aeroplane."""

    def __init__(
        self, panel: Panel, world: World, airframe: Airframe, gear: GearBrakes, autoflight: Autoflight
    ) -> None:
        self._panel = panel
        self._world = world
        self._airframe = airframe
        self._gear = gear
        self._autoflight = autoflight
        self._speed_ms = 0.0  # along the nose on the ground, true airspeed in flight
        self._climb_rad = 0.0
        self._pitch = 0.0
        self._bank = 0.0
        self._heading = START_HEADING
        self._ground_ft = FIELD_ELEVATION_FT
        self._altitude_ft = FIELD_ELEVATION_FT
        self._load = 1.0
        self._on_ground = True

    def place(self, latitude: float, longitude: float, heading_deg: float) -> None:
        """Put the aeroplane at another position on the ground, stopped.

        Args:
            latitude: degrees, north positive.
            longitude: degrees, east positive.
            heading_deg: heading of the nose.
        """
        numbers = self._panel.numbers
        numbers["flight.latitude"], numbers["flight.longitude"] = latitude, longitude
        self._ground_ft = elevation_ft(latitude, longitude)
        self._heading = heading_deg % 360.0
        self._touch_down(0.0)
        self._pitch = 0.0

    def step(self, dt_s: float) -> None:
        """Advance speed, attitude and position."""
        if self._on_ground:
            self._roll(dt_s)
        else:
            self._fly(dt_s)

    def _attitude(self, air_ms: float, dt_s: float) -> None:
        """Change pitch and bank with elevator and aileron while there is airflow."""
        numbers = self._panel.numbers
        firm = clamp((air_ms - 30.0) / 35.0, 0.0, 1.2)
        trimmed = clamp(1.0 + 0.1 * (numbers["controls.stabiliser_trim"] - 5.0), 0.2, 1.8)
        elevator = clamp(trimmed * numbers["controls.elevator"] / 100.0, -1.0, 1.0)
        pitch = self._autoflight.pitch_rate(self._pitch, 4.5 * firm * elevator)
        self._pitch = clamp(self._pitch + pitch * dt_s, -15.0, 20.0)
        bank = self._autoflight.bank_rate(self._bank, 0.15 * firm * numbers["controls.aileron"])
        self._bank = clamp(self._bank + bank * dt_s, -45.0, 45.0)

    def _roll(self, dt_s: float) -> None:
        """Advance on the wheels."""
        wind = self._world.headwind_ms(self._heading)
        air_ms = max(0.0, self._speed_ms + wind)
        self._attitude(air_ms, dt_s)
        self._bank = 0.0
        settled = lag(self._pitch, 0.0, 1.0, dt_s) if air_ms < 35.0 else self._pitch
        self._pitch = clamp(settled, 0.0, 13.0)
        forces = self._airframe.forces(air_ms, self._pitch)
        self._speed_ms = ground_roll_speed_ms(self._panel, self._gear, forces, self._speed_ms, dt_s)
        self._heading += degrees(turn_rate(self._speed_ms, self._gear.nose_deg, WHEELBASE_M)) * dt_s
        self._climb_rad, self._load = 0.0, 1.0
        ground = self._speed_ms
        self._travel(ground, self._heading, dt_s)
        self._altitude_ft = self._ground_ft
        if forces.lift_n > self._lift_needed() * forces.weight_n:
            self._on_ground, self._speed_ms = False, air_ms
        self._publish(air_ms, abs(ground), forces)

    def _lift_needed(self) -> float:
        """Return the ratio of lift to weight for lift-off; higher with idle thrust, so that it stays down after touchdown."""
        idle = all(self._panel.dial[f"engine.{k}.thrust_lever"] < 20.0 for k in "12")
        return 1.4 if idle else 1.02

    def _fly(self, dt_s: float) -> None:
        """Advance in the air."""
        self._attitude(self._speed_ms, dt_s)
        incidence = self._pitch - degrees(self._climb_rad)
        forces = self._airframe.forces(self._speed_ms, incidence)
        mass, bank = forces.weight_n / GRAVITY, radians(self._bank)
        along = (forces.thrust_n - forces.drag_n) / mass - GRAVITY * sin(self._climb_rad)
        self._load = clamp(forces.lift_n / forces.weight_n, -0.8, 2.8)
        self._speed_ms = clamp(self._speed_ms + along * dt_s, 35.0, 270.0)
        bend = GRAVITY / self._speed_ms * (self._load * cos(bank) - cos(self._climb_rad))
        self._climb_rad = clamp(self._climb_rad + bend * dt_s, -0.35, 0.35)
        self._heading += degrees(GRAVITY * sin(bank) * self._load / self._speed_ms) * dt_s
        self._altitude_ft += self._speed_ms * sin(self._climb_rad) * dt_s / FT_M
        self._altitude_ft = min(self._altitude_ft, 45000.0)
        ground_ms, track = self._over_ground()
        self._travel(ground_ms, track, dt_s)
        self._publish(self._speed_ms, ground_ms, forces)
        if self._altitude_ft <= self._ground_ft:
            self._touch_down(ground_ms)

    def _over_ground(self) -> tuple[float, float]:
        """Return the ground speed in m/s and the track in degrees: air velocity plus wind."""
        numbers = self._panel.numbers
        level = self._speed_ms * cos(self._climb_rad)
        wind = numbers["weather.wind_speed"] * KT_MS
        blows = radians(numbers["weather.wind_direction"])
        north = level * cos(radians(self._heading)) - wind * cos(blows)
        east = level * sin(radians(self._heading)) - wind * sin(blows)
        return hypot(north, east), degrees(atan2(east, north))

    def _touch_down(self, ground_ms: float) -> None:
        """Change to the wheels."""
        self._on_ground, self._altitude_ft, self._speed_ms = True, self._ground_ft, ground_ms
        self._climb_rad, self._bank = 0.0, 0.0

    def _travel(self, ground_ms: float, track: float, dt_s: float) -> None:
        """Move over the ground, on a sphere."""
        self._heading %= 360.0
        numbers = self._panel.numbers
        way = degrees(ground_ms * dt_s / EARTH_M)
        latitude = clamp(numbers["flight.latitude"] + way * cos(radians(track)), -85.0, 85.0)
        longitude = numbers["flight.longitude"] + way * sin(radians(track)) / cos(radians(latitude))
        numbers["flight.latitude"] = latitude
        numbers["flight.longitude"] = (longitude + 180.0) % 360.0 - 180.0
        self._ground_ft = elevation_ft(latitude, longitude)
        numbers["flight.track"] = (track if ground_ms >= 0.0 else track + 180.0) % 360.0

    def _publish(self, air_ms: float, ground_ms: float, forces: Forces) -> None:
        """Publish the motion."""
        numbers, temperature = self._panel.numbers, self._panel.numbers["flight.outside_air_temperature"]
        number = mach(air_ms, temperature)
        numbers["flight.mach"] = number
        numbers["flight.airspeed"] = min(499.0, calibrated_kt(number, self._world.pressure_hpa))
        numbers["flight.ground_speed"] = ground_ms / KT_MS
        numbers["flight.wheel_speed"] = min(299.0, ground_ms / KT_MS) if self._on_ground else 0.0
        numbers["flight.heading"] = self._heading
        numbers["flight.pitch"], numbers["flight.bank"] = self._pitch, self._bank
        numbers["flight.height"] = max(0.0, self._altitude_ft - self._ground_ft)
        numbers["flight.altitude"] = max(self._altitude_ft, self._ground_ft)
        climb_ms = 0.0 if self._on_ground else self._speed_ms * sin(self._climb_rad)
        numbers["flight.vertical_speed"] = clamp(climb_ms / FT_M * 60.0, -19000.0, 19000.0)
        numbers["flight.normal_load"] = self._load
        numbers["flight.angle_of_attack"] = forces.incidence_deg if air_ms > 15.0 else 0.0
        numbers["flight.slip"] = clamp(0.05 * numbers["controls.rudder"], -5.0, 5.0) if air_ms > 15.0 else 0.0
        self._panel.words["flight.on_ground"] = "yes" if self._on_ground else "no"
