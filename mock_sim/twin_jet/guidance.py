"""Guidance: climb angle and bank that the active autopilot modes command.

Takes: modes, panel settings, motion and position.  Gives: a climb angle and a bank.  Gains by trial with
the mock aeroplane.
"""

from __future__ import annotations

from itertools import pairwise
from math import asin, cos, degrees, hypot, inf, radians, sin

from mock_sim.common.atmosphere import STANDARD_HPA, standard_height_ft
from mock_sim.common.dynamics import clamp, lag
from mock_sim.common.panel import Panel
from mock_sim.twin_jet.airports import (
    AVERIL,
    NM_FT,
    ROUTE,
    RUNWAYS,
    SELMAR,
    Runway,
    bearing_and_distance,
    from_runway,
    offset_nm,
)

FT_MIN_KT = 60.0 / NM_FT
CAPTURE_FT = 150.0
ACCELERATION_FT = 1500.0
MANAGED_KT = ((10_000.0, 250.0), (27_000.0, 290.0), (inf, 262.0))
"""Altitude, and the speed of the flight plan below it; the last is about Mach 0.76."""
WAYPOINT_CAPTURE_NM = 1.6
SPEED_BY_PITCH_MODES = ("takeoff", "climb", "descent", "go_around")
CLIMB_BOUNDS_DEG = {
    "takeoff": (2.0, 14.0),
    "climb": (0.5, 12.0),
    "go_around": (2.0, 12.0),
    "descent": (-5.5, -0.4),
}
"""Highest and lowest climb angle of each mode that holds the speed by pitch."""
GLIDE_DEG = 3.0
THRESHOLD_FT = 50.0


def tuned_runway(panel: Panel) -> Runway | None:
    """Return the runway whose landing system receiver 1 is tuned to, or None.

    Args:
        panel: the aeroplane's panel.
    """
    frequency = panel.numbers["navigation.frequency.1"]
    return next((end for end in RUNWAYS if abs(end.ils_mhz - frequency) < 0.005), None)


def captains_altitude_ft(panel: Panel) -> float:
    """Return the altitude with the captain's altimeter setting, which the autopilot uses.

    Args:
        panel: the aeroplane's panel.
    """
    standard = panel.switch["altimeter.captain.standard"] == "yes"
    setting = STANDARD_HPA if standard else panel.numbers["altimeter.captain.setting"]
    return panel.numbers["flight.pressure_altitude"] - standard_height_ft(setting)


def managed_speed_kt(panel: Panel) -> float:
    """Return the speed of the flight plan: V2 after the take-off, then by altitude.

    Args:
        panel: the aeroplane's panel.
    """
    if panel.numbers["flight.height"] < ACCELERATION_FT:
        return panel.numbers["speeds.v2.captain"]
    altitude = panel.numbers["flight.pressure_altitude"]
    return next(speed for below_ft, speed in MANAGED_KT if altitude < below_ft)


def target_speed_kt(panel: Panel) -> float:
    """Return the speed that pitch or thrust holds: managed where the flight plan has one, otherwise dialled.

    Args:
        panel: the aeroplane's panel.
    """
    managed = panel.numbers["autoflight.managed_speed"]
    is_managed = panel.words["autoflight.speed_mode"] == "managed" and managed > 0.0
    return managed if is_managed else panel.numbers["autoflight.speed"]


def climb_angle_deg(climb_ft_min: float, ground_kt: float) -> float:
    """Return the angle of a climb rate at a ground speed.

    Args:
        climb_ft_min: rate of climb.
        ground_kt: speed over the ground.
    """
    return degrees(asin(clamp(climb_ft_min * FT_MIN_KT / max(60.0, ground_kt), -0.5, 0.5)))


class Guidance:
    """Commands of the modes: `climb_deg` and `bank_deg`."""

    def __init__(self, panel: Panel) -> None:
        self._panel = panel
        self._speed_kt = 0.0
        self.acceleration_kt_s = 0.0
        self._begin, self._route, self._end = AVERIL, ROUTE, SELMAR
        self._has_route = False
        self._waypoint = 0
        self._target_ft: float | None = None

    def step(self, dt_s: float) -> None:
        """Update the rate of change of the speed, and the next waypoint."""
        speed = self._panel.numbers["flight.airspeed"]
        if dt_s > 0.0:
            self.acceleration_kt_s = lag(self.acceleration_kt_s, (speed - self._speed_kt) / dt_s, 1.5, dt_s)
        self._speed_kt = speed
        active = self._panel.words["management.route"] == "yes"
        if active and not self._has_route and self._panel.words["flight.on_ground"] == "yes":
            self._enter_route()
        self._has_route = active
        self._panel.numbers["autoflight.managed_speed"] = managed_speed_kt(self._panel) if active else 0.0
        self._panel.numbers["management.distance_to_go"] = self._distance_to_go_nm() if active else 0.0
        self._panel.numbers["management.cross_track"] = self._cross_track_nm() if active else 0.0
        if self._panel.words["autoflight.vertical_mode"] != "altitude":
            self._target_ft = None
        elif self._target_ft is None:
            chosen, now = self._panel.numbers["autoflight.altitude"], captains_altitude_ft(self._panel)
            self._target_ft = chosen if abs(chosen - now) < 2.0 * CAPTURE_FT else now

    def _enter_route(self) -> None:
        """Begin the route at the nearer airport; the way back has the same waypoints."""
        here = (self._panel.numbers["flight.latitude"], self._panel.numbers["flight.longitude"])
        far = [bearing_and_distance(*here, (end.latitude, end.longitude))[1] for end in RUNWAYS]
        back = far[1] < far[0]
        self._begin, self._end = (SELMAR, AVERIL) if back else (AVERIL, SELMAR)
        self._route = ROUTE[::-1] if back else ROUTE
        self._waypoint = 0

    def _distance_to_go_nm(self) -> float:
        """Return the remaining distance along the route, rounded to tenths as the display shows it."""
        here = (self._panel.numbers["flight.latitude"], self._panel.numbers["flight.longitude"])
        way = (here, *self._route[self._waypoint :], (self._end.latitude, self._end.longitude))
        if (
            self._waypoint == len(self._route) - 1
            and bearing_and_distance(*here, way[-1])[1] < bearing_and_distance(*way[1], way[-1])[1]
        ):
            way = (here, way[-1])
        return round(sum(bearing_and_distance(*begin, end)[1] for begin, end in pairwise(way)), 1)

    def _cross_track_nm(self) -> float:
        """Return how far right of the present leg the aeroplane is, rounded to tenths as the display shows it."""
        numbers, to = self._panel.numbers, self._route[self._waypoint]
        begin = (
            self._route[self._waypoint - 1]
            if self._waypoint
            else (self._begin.latitude, self._begin.longitude)
        )
        course = radians(bearing_and_distance(*begin, to)[0])
        north, east = offset_nm(*begin, numbers["flight.latitude"], numbers["flight.longitude"])
        return round(east * cos(course) - north * sin(course), 1)

    def climb_deg(self, mode: str) -> float:
        """Return the climb angle that a vertical mode commands.

        Args:
            mode: the active vertical mode.
        """
        numbers = self._panel.numbers
        goal = numbers["autoflight.altitude"] if self._target_ft is None else self._target_ft
        to_go = goal - captains_altitude_ft(self._panel)
        if mode == "glide_path":
            return self._glide_deg()
        rate = clamp(6.0 * to_go, -1000.0, 1000.0)
        if mode == "vertical_speed":
            rate = numbers["autoflight.vertical_speed"]
            rate = clamp(rate, -6.0 * abs(to_go), 6.0 * abs(to_go)) if rate * to_go > 0 else rate
        wanted = climb_angle_deg(rate, numbers["flight.ground_speed"]) if mode != "off" else 0.0
        if mode not in SPEED_BY_PITCH_MODES:
            return wanted
        softly = climb_angle_deg(6.0 * to_go, numbers["flight.ground_speed"])
        low, high = CLIMB_BOUNDS_DEG[mode]
        steep = clamp(self._speed_climb_deg(), low, high)
        return min(steep, softly) if to_go > 0.0 else max(steep, softly) if mode == "descent" else softly

    def _speed_climb_deg(self) -> float:
        """Return the climb angle that brings the speed to the selected one."""
        numbers = self._panel.numbers
        now = climb_angle_deg(numbers["flight.vertical_speed"], numbers["flight.ground_speed"])
        over = numbers["flight.airspeed"] - target_speed_kt(self._panel)
        return now + clamp(0.25 * over, -3.0, 3.0) + 2.5 * self.acceleration_kt_s

    def _glide_deg(self) -> float:
        """Return the climb angle that follows the glide path."""
        numbers, runway = self._panel.numbers, tuned_runway(self._panel)
        if runway is None:
            return 0.0
        ahead, _ = from_runway(runway, numbers["flight.latitude"], numbers["flight.longitude"])
        path_ft = runway.elevation_ft + THRESHOLD_FT + max(0.0, ahead) * NM_FT * 0.05241
        rate = clamp(5.0 * (path_ft - numbers["flight.altitude"]), -600.0, 600.0)
        return climb_angle_deg(rate, numbers["flight.ground_speed"]) - GLIDE_DEG

    def bank_deg(self, mode: str) -> float:
        """Return the bank that a lateral mode commands, right positive.

        Args:
            mode: the active lateral mode.
        """
        numbers = self._panel.numbers
        if mode == "off":
            return 0.0
        if mode in ("route", "localizer", "rollout", "track"):
            wanted, now = self._track_deg(mode), numbers["flight.track"]
        else:
            wanted, now = numbers["autoflight.heading"], numbers["flight.heading"]
        off = (wanted - now + 180.0) % 360.0 - 180.0
        return clamp(1.3 * off, -25.0, 25.0)

    def _track_deg(self, mode: str) -> float:
        """Return the track that a mode commands."""
        if mode == "track":
            return self._panel.numbers["autoflight.heading"]
        return self._waypoint_track_deg() if mode == "route" else self._localizer_track_deg()

    def _waypoint_track_deg(self) -> float:
        """Return the track to the next waypoint; a waypoint counts as passed a little before it."""
        here = (self._panel.numbers["flight.latitude"], self._panel.numbers["flight.longitude"])
        track, far_nm = bearing_and_distance(*here, self._route[self._waypoint])
        if far_nm < WAYPOINT_CAPTURE_NM and self._waypoint < len(self._route) - 1:
            self._waypoint += 1
        return track

    def _localizer_track_deg(self) -> float:
        """Return the track that intercepts the centre line of the tuned localizer."""
        numbers, runway = self._panel.numbers, tuned_runway(self._panel)
        if runway is None:
            return numbers["flight.track"]
        _, right = from_runway(runway, numbers["flight.latitude"], numbers["flight.longitude"])
        return (runway.heading_deg - clamp(50.0 * right, -45.0, 45.0)) % 360.0


def ils_deviations(panel: Panel) -> tuple[float | None, float | None]:
    """Return the deviations in dots from the tuned landing system: right and high positive.

    Four dots of 1.25 degrees and of 0.35 degrees, the usual scale; None where nothing is received.

    Args:
        panel: the aeroplane's panel.
    """
    numbers, runway = panel.numbers, tuned_runway(panel)
    if runway is None:
        return None, None
    ahead, right = from_runway(runway, numbers["flight.latitude"], numbers["flight.longitude"])
    if not -1.4 < ahead < 25.0:
        return None, None
    sideways = (
        degrees(asin(right / max(0.2, hypot(ahead + 1.6, right)))) if abs(right) < ahead + 1.6 else 60.0
    )
    above = (numbers["flight.altitude"] - runway.elevation_ft) / NM_FT
    high = degrees(asin(clamp(above / max(0.05, hypot(ahead + 0.157, above)), -1.0, 1.0))) - GLIDE_DEG
    seen = abs(sideways) < 35.0
    glide = clamp(high / 0.35, -3.0, 3.0) if seen and 0.05 < ahead < 18.0 else None
    return (clamp(sideways / 1.25, -3.0, 3.0) if seen else None), glide
