"""Motion on three wheels and in flight, with a simple stall, in simplified mechanics.

On the ground: one speed along the nose, and turns by the nose wheel.  In flight: a point mass with lift, drag and thrust
that turns with bank, drops its nose in the stall, and pitches if trim and column do not balance.  Accurate enough for
procedures, not for performance.

Takes: thrust, brakes, steering, surfaces, flaps, trim, air.  Gives: every `flight.*` signal.
"""

from __future__ import annotations

from math import atan2, cos, degrees, hypot, radians, sin

from mock_sim.common.atmosphere import FT_M, KT_MS, calibrated_kt, mach
from mock_sim.common.dynamics import clamp, lag
from mock_sim.common.forces import GRAVITY, Forces
from mock_sim.common.panel import Panel, Part
from mock_sim.common.rolling import free_rolling_speed_ms, turn_rate
from mock_sim.common.world import World
from mock_sim.piston.airfield import (
    ELEVATION_FT,
    STAND,
    STAND_DEG,
    THRESHOLD_LATITUDE,
    latitude_longitude,
    to_metres,
)
from mock_sim.piston.airframe import Airframe
from mock_sim.piston.wheels import Wheels

WHEELBASE_M = 1.65
FASTEST_MS = 90.0
HIGHEST_FT = 14000.0
MOORING_FORCE_N = 1500.0
TRIM_SHARE = 0.35
SETTLE_S = 1.5
"""Time after touchdown without a new lift-off, seconds."""

PART = Part(
    drives={
        "flight.on_ground": "yes",
        "flight.airspeed": 0.0,
        "flight.ground_speed": 0.0,
        "flight.altitude": ELEVATION_FT,
        "flight.height": 0.0,
        "flight.vertical_speed": 0.0,
        "flight.heading": STAND_DEG,
        "flight.track": STAND_DEG,
        "flight.pitch": 0.0,
        "flight.bank": 0.0,
        "flight.slip": 0.0,
        "flight.angle_of_attack": 0.0,
        "flight.latitude": THRESHOLD_LATITUDE,
        "flight.longitude": 0.0,
        "flight.mach": 0.0,
        "flight.normal_load": 1.0,
        "flight.wheel_speed": 0.0,
    },
)


class Motion:
    """Position and motion of the aeroplane.  `north_m` and `east_m` count from the threshold."""

    def __init__(self, panel: Panel, world: World, airframe: Airframe, wheels: Wheels) -> None:
        self._panel = panel
        self._world = world
        self._airframe = airframe
        self._wheels = wheels
        self.north_m, self.east_m = to_metres(STAND)
        self.climb_rad = 0.0
        self.speed_ms = 0.0  # along the nose on the ground, true airspeed in flight
        self._pitch = 0.0
        self._bank = 0.0
        self._heading = STAND_DEG
        self._height_ft = 0.0
        self._load = 1.0
        self._track = STAND_DEG
        self._settling_s = 0.0
        self._publish(0.0, 0.0, airframe.forces(0.0, 0.0, 0.0))

    @property
    def on_ground(self) -> bool:
        """True while it is on its wheels."""
        return self._panel.words["flight.on_ground"] == "yes"

    def place(
        self, position: tuple[float, float], heading_deg: float, height_ft: float = 0.0, air_ms: float = 0.0
    ) -> None:
        """Put the aeroplane at another position.

        Args:
            position: metres along the runway and to the right of it.
            heading_deg: heading of the nose.
            height_ft: above the ground; 0 for on its wheels.
            air_ms: true airspeed in flight.
        """
        self.north_m, self.east_m = to_metres(position)
        self._heading, self._track = heading_deg % 360.0, heading_deg % 360.0
        self._pitch, self._bank, self.climb_rad, self._load = 0.0, 0.0, 0.0, 1.0
        self._height_ft, self.speed_ms = height_ft, air_ms
        self._panel.words["flight.on_ground"] = "no" if height_ft > 0.0 else "yes"

    def step(self, dt_s: float) -> None:
        """Advance speed, attitude and position."""
        if self.on_ground:
            self._roll(dt_s)
        else:
            self._fly(dt_s)

    def _attitude(self, air_ms: float, incidence_deg: float, dt_s: float) -> None:
        """Change pitch and bank with the surfaces while there is airflow; beyond the stall the nose drops."""
        numbers = self._panel.numbers
        firm = clamp((air_ms - 11.0) / 18.0, 0.0, 1.3)
        elevator = numbers["controls.elevator"] + TRIM_SHARE * numbers["controls.elevator_trim"]
        drop = 1.5 * max(0.0, incidence_deg - self._airframe.stall_deg())
        self._pitch = clamp(
            self._pitch + (0.1 * firm * clamp(elevator, -100.0, 100.0) - drop) * dt_s, -30.0, 30.0
        )
        rolls = 0.35 * firm * numbers["controls.aileron"]
        self._bank = clamp(self._bank + rolls * dt_s, -60.0, 60.0)

    def _roll(self, dt_s: float) -> None:
        """Advance on the wheels."""
        air_ms = max(0.0, self.speed_ms + self._world.headwind_ms(self._heading))
        self._attitude(air_ms, 0.0, dt_s)
        self._bank = 0.0
        settled = lag(self._pitch, 0.0, 0.8, dt_s) if air_ms < 15.0 else self._pitch
        self._pitch = clamp(settled, 0.0, 11.0)
        forces = self._airframe.forces(air_ms, self._pitch, 0.0)
        held = self._wheels.moored and abs(self.speed_ms) < 0.5 and forces.thrust_n < MOORING_FORCE_N
        braking = 0.9 * self._wheels.braking
        self.speed_ms = 0.0 if held else free_rolling_speed_ms(forces, braking, self.speed_ms, dt_s)
        self._heading += degrees(turn_rate(self.speed_ms, self._wheels.nose_deg, WHEELBASE_M)) * dt_s
        self.climb_rad, self._height_ft, self._load = 0.0, 0.0, 1.0
        ground = self.speed_ms
        self._settling_s = max(0.0, self._settling_s - dt_s)
        if forces.lift_n > 1.02 * forces.weight_n and not self._settling_s:
            self._panel.words["flight.on_ground"], self.speed_ms = "no", air_ms
        self._travel(ground, self._heading, dt_s)
        self._publish(air_ms, abs(ground), forces)

    def _fly(self, dt_s: float) -> None:
        """Advance in the air."""
        incidence = self._pitch - degrees(self.climb_rad)
        self._attitude(self.speed_ms, incidence, dt_s)
        forces = self._airframe.forces(self.speed_ms, incidence, self._height_ft)
        mass, bank = forces.weight_n / GRAVITY, radians(self._bank)
        along = (forces.thrust_n - forces.drag_n) / mass - GRAVITY * sin(self.climb_rad)
        self._load = clamp(forces.lift_n / forces.weight_n, -1.5, 4.0)
        self.speed_ms = clamp(self.speed_ms + along * dt_s, 12.0, FASTEST_MS)
        bend = GRAVITY / self.speed_ms * (self._load * cos(bank) - cos(self.climb_rad))
        self.climb_rad = clamp(self.climb_rad + bend * dt_s, -0.7, 0.4)
        self._heading += degrees(GRAVITY * sin(bank) * self._load / self.speed_ms) * dt_s
        self._height_ft += self.speed_ms * sin(self.climb_rad) * dt_s / FT_M
        self._height_ft = min(self._height_ft, HIGHEST_FT)
        ground_ms, track = self._over_ground()
        self._travel(ground_ms, track, dt_s)
        self._publish(self.speed_ms, ground_ms, forces)
        if self._height_ft <= 0.0:
            self._touch_down()

    def _over_ground(self) -> tuple[float, float]:
        """Return the ground speed in m/s and the track in degrees: air velocity plus wind."""
        numbers = self._panel.numbers
        level = self.speed_ms * cos(self.climb_rad)
        wind, blows = numbers["weather.wind_speed"] * KT_MS, radians(numbers["weather.wind_direction"])
        north = level * cos(radians(self._heading)) - wind * cos(blows)
        east = level * sin(radians(self._heading)) - wind * sin(blows)
        return hypot(north, east), degrees(atan2(east, north))

    def _touch_down(self) -> None:
        """Change to the wheels; the wind is subtracted from the airspeed."""
        self._panel.words["flight.on_ground"] = "yes"
        self._height_ft, self.speed_ms = 0.0, max(0.0, self.speed_ms - self._world.headwind_ms(self._heading))
        self.climb_rad, self._bank, self._settling_s = 0.0, 0.0, SETTLE_S

    def _travel(self, ground_ms: float, track: float, dt_s: float) -> None:
        """Move over the ground."""
        self._heading %= 360.0
        self._track = (track if ground_ms >= 0.0 else track + 180.0) % 360.0
        self.north_m += ground_ms * dt_s * cos(radians(track))
        self.east_m += ground_ms * dt_s * sin(radians(track))

    def _publish(self, air_ms: float, ground_ms: float, forces: Forces) -> None:
        """Publish the motion."""
        numbers = self._panel.numbers
        number = mach(air_ms, numbers["flight.outside_air_temperature"])
        numbers["flight.mach"] = number
        numbers["flight.airspeed"] = min(240.0, calibrated_kt(number, self._world.pressure_hpa))
        numbers["flight.ground_speed"] = min(699.0, ground_ms / KT_MS)
        numbers["flight.wheel_speed"] = min(299.0, ground_ms / KT_MS) if self.on_ground else 0.0
        numbers["flight.heading"], numbers["flight.track"] = self._heading, self._track
        numbers["flight.latitude"], numbers["flight.longitude"] = latitude_longitude(
            self.north_m, self.east_m
        )
        numbers["flight.pitch"], numbers["flight.bank"] = self._pitch, self._bank
        numbers["flight.height"] = max(0.0, self._height_ft)
        numbers["flight.altitude"] = ELEVATION_FT + max(0.0, self._height_ft)
        climb_ms = 0.0 if self.on_ground else self.speed_ms * sin(self.climb_rad)
        numbers["flight.vertical_speed"] = climb_ms / FT_M * 60.0
        numbers["flight.normal_load"] = self._load
        numbers["flight.angle_of_attack"] = forces.incidence_deg if air_ms > 10.0 else 0.0
        numbers["flight.slip"] = self._slip(air_ms)

    def _slip(self, air_ms: float) -> float:
        """Return the sideslip: the rudder's, and the propeller's without rudder."""
        if self.on_ground or air_ms < 10.0:
            return 0.0
        return clamp(
            -0.1 * self._panel.numbers["controls.rudder"] - 0.3 * self._panel.numbers["controls.rudder_trim"],
            -12.0,
            12.0,
        )
