"""The pilot's flying: take-off, a left-hand circuit, approach and landing.

Each leg ends by itself, and the next one follows.

Takes: the leg, speeds, position and motion of the aeroplane.  Gives: small movements of the controls.
"""

from __future__ import annotations

from collections.abc import Callable
from math import radians, tan

from mock_sim.common.atmosphere import FT_M, KT_MS
from mock_sim.common.dynamics import clamp
from mock_sim.common.panel import Panel
from mock_sim.piston.airfield import ROUTES, RUNWAY_DEG
from mock_sim.piston.control_inputs import ControlInputs
from mock_sim.piston.motion import Motion

CIRCUIT_FT = 1000.0
LEVEL_OFF_FT = 940.0
DOWNWIND_M = 1500.0
TURN_M = 450.0
CROSSWIND_FT = 600.0
UPWIND_M = 1300.0
BASE_M = 1900.0
AIM_M = 120.0
GLIDE = tan(radians(3.7))
FLARE_FT = 18.0
TAXI_KT = 15.0

CIRCUIT = ("take_off", "climb_out", "crosswind", "downwind", "base", "final", "flare", "roll_out")


class CircuitPilot(ControlInputs):
    """Flies the legs; each leg is a method of its name."""

    def __init__(self, panel: Panel, motion: Motion) -> None:
        super().__init__(panel, motion)
        self._task = "none"
        self._throttle_integral = 0.0
        self.legs: dict[str, Callable[[float], None]] = {
            "take_off": self._take_off,
            "climb_out": self._climb_out,
            "crosswind": self._crosswind,
            "downwind": self._downwind,
            "base": self._base,
            "final": self._final,
            "flare": self._flare,
            "roll_out": self._roll_out,
        }

    def _take_off(self, dt_s: float) -> None:
        """Apply full throttle, hold the centre line, and raise the nose at the rotation speed."""
        self._brake(0.0)
        self._throttle(100.0, 35.0 * dt_s)
        self._release_parking_brake(dt_s)
        right = self._position()[1]
        self._steer(RUNWAY_DEG - clamp(0.8 * right, -8.0, 8.0))
        rotate = self._number("flight.airspeed") >= self._panel.dial["pilot.rotate_speed"]
        self._hold_pitch(7.5 if rotate else 0.0)
        if not self._motion.on_ground:
            self._bank_to_track(RUNWAY_DEG)
            if self._number("flight.height") > 50.0:
                self._begin_task("climb_out")

    def _climb_out(self, dt_s: float) -> None:
        """Climb straight ahead at full throttle and the climb speed."""
        self._climb(dt_s)
        along, right = self._position()
        self._bank_to_track(self._intercept_track(RUNWAY_DEG, right))
        if self._number("flight.height") > CROSSWIND_FT and along > UPWIND_M:
            self._begin_task("crosswind")

    def _crosswind(self, dt_s: float) -> None:
        """Turn left, and climb to the height of the circuit: a light aeroplane on a cold day is there before the next turn."""
        if self._number("flight.height") < LEVEL_OFF_FT:
            self._climb(dt_s)
        else:
            self._fly_descent_path(self._panel.dial["pilot.circuit_speed"], dt_s)
        self._bank_to_track(RUNWAY_DEG - 90.0)
        if self._position()[1] < -(DOWNWIND_M - TURN_M):
            self._begin_task("downwind")

    def _downwind(self, dt_s: float) -> None:
        """Fly level along the runway the other way, until well behind the threshold."""
        along, right = self._position()
        if self._number("flight.height") < LEVEL_OFF_FT and along > 0.0:
            self._climb(dt_s)
        else:
            self._fly_descent_path(self._panel.dial["pilot.circuit_speed"] if along > 0.0 else 72.0, dt_s)
        self._bank_to_track(self._intercept_track(RUNWAY_DEG + 180.0, -(right + DOWNWIND_M)))
        if along < -BASE_M + TURN_M:
            self._begin_task("base")

    def _base(self, dt_s: float) -> None:
        """Fly across and descend."""
        along, right = self._position()
        self._fly_descent_path(68.0, dt_s)
        self._bank_to_track(self._intercept_track(RUNWAY_DEG + 90.0, -(along + BASE_M)))
        if right > -TURN_M * 0.8:
            self._begin_task("final")

    def _final(self, dt_s: float) -> None:
        """Descend to the threshold."""
        self._fly_descent_path(self._panel.dial["pilot.approach_speed"], dt_s)
        self._bank_to_track(self._intercept_track(RUNWAY_DEG, self._position()[1]))
        if self._number("flight.height") < FLARE_FT or self._motion.on_ground:
            self._begin_task("flare")

    def _flare(self, dt_s: float) -> None:
        """Close the throttle, raise the nose and touch down."""
        self._throttle(0.0, 30.0 * dt_s)
        self._bank_to_track(self._intercept_track(RUNWAY_DEG, self._position()[1]))
        if self._motion.on_ground:
            self._begin_task("roll_out")
            return
        height = max(0.0, self._number("flight.height"))
        self._hold_sink_rate(60.0 + 24.0 * height)

    def _roll_out(self, dt_s: float) -> None:
        """Lower the nose, track straight, and brake gently, until slow enough to leave the runway."""
        self._throttle(0.0, 30.0 * dt_s)
        self._hold_pitch(0.0)
        self._set_control("wheel", 0.0)
        along, right = self._position()
        self._steer(RUNWAY_DEG - clamp(0.8 * right, -8.0, 8.0))
        room_m = ROUTES["vacate"][0][0] - 25.0 - along
        fast = self._speed_kt() - TAXI_KT
        slow_for = fast > 0.0 and (fast * KT_MS) ** 2 > 1.6 * max(1.0, room_m)
        self._brake(45.0 if slow_for else 0.0)
        if room_m < 0.0 or self._speed_kt() < TAXI_KT:
            self._set_control("column", 0.0)
            self._begin_task("vacate")

    def _climb(self, dt_s: float) -> None:
        """Climb at full throttle; the nose holds the speed."""
        self._throttle(100.0, 20.0 * dt_s)
        fast = self._number("flight.airspeed") - self._panel.dial["pilot.climb_speed"]
        self._hold_pitch(clamp(7.5 + 0.55 * fast, -2.0, 12.0))

    def _fly_descent_path(self, wanted_kt: float, dt_s: float) -> None:
        """Hold the path to the aiming point with the nose, and the speed with the throttle."""
        height = self._number("flight.height")
        path = min(CIRCUIT_FT, self._distance_to_go_m() * GLIDE / FT_M)
        nominal = (
            self._number("flight.ground_speed") * KT_MS * GLIDE / FT_M * 60.0 if path < CIRCUIT_FT else 0.0
        )
        self._hold_sink_rate(clamp(nominal + 6.0 * (height - path), -500.0, 900.0))
        missing = wanted_kt - self._number("flight.airspeed")
        self._throttle_integral = clamp(self._throttle_integral + 0.35 * missing * dt_s, -40.0, 60.0)
        self._throttle(clamp(28.0 + self._throttle_integral + 3.0 * missing, 0.0, 100.0), 12.0 * dt_s)

    def _distance_to_go_m(self) -> float:
        """Return the distance to the aiming point along the circuit, metres."""
        along, right = self._position()
        straight = {"final": AIM_M - along, "base": AIM_M + BASE_M - right}
        return straight.get(self._task, AIM_M + 2.0 * BASE_M + DOWNWIND_M + along)
