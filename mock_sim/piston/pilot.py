"""The pilot's hands and feet: taxi along a route, line up, take off, fly a left-hand circuit, land and vacate.

They move only column, wheel, pedals, toe brakes and throttle; the steps of the scenario set everything else.  A task ends
by itself at its goal, and the next leg of a circuit follows.

Takes: a task, speeds, position and motion of the aeroplane.  Gives: small movements of the controls.
"""

from __future__ import annotations

from collections.abc import Callable
from math import atan2, degrees, hypot

from mock_sim.common.dynamics import clamp
from mock_sim.common.panel import Panel, Part, choice_control, quantity_control
from mock_sim.piston.airfield import ROUTES, RUNWAY_DEG
from mock_sim.piston.circuit import CIRCUIT, CircuitPilot
from mock_sim.piston.motion import Motion
from rules.words import words_of_id

TASKS = ("none", "hold", *ROUTES, *CIRCUIT)
"""The tasks of the pilot; `hold` presses the brakes."""

HOLD_PEDAL = 75.0
CAPTURE_M = 9.0
SLOW_TURN_DEG = 25.0
SLOW_TURN_KT = 5.0
MAX_TAXI_THROTTLE = 17.0

PART = Part(
    controls={
        "pilot.task": "none",
        "pilot.taxi_speed": 11.0,
        "pilot.rotate_speed": 52.0,
        "pilot.climb_speed": 70.0,
        "pilot.circuit_speed": 85.0,
        "pilot.approach_speed": 65.0,
    },
    extra=(
        choice_control("pilot.task", TASKS, "The pilot's present task at the controls"),
        *(
            quantity_control(f"pilot.{name}", "kt", low, high, f"Speed of the pilot's {words_of_id(name)}")
            for name, low, high in (
                ("taxi_speed", 3.0, 20.0),
                ("rotate_speed", 40.0, 80.0),
                ("climb_speed", 55.0, 95.0),
                ("circuit_speed", 60.0, 100.0),
                ("approach_speed", 50.0, 90.0),
            )
        ),
    ),
)


class PistonPilot(CircuitPilot):
    """Hands and feet.  They release all controls while the task is `none`."""

    def __init__(self, panel: Panel, motion: Motion) -> None:
        super().__init__(panel, motion)
        self._waypoint = 0
        self._actions: dict[str, Callable[[float], None]] = {
            "hold": self._hold,
            **dict.fromkeys(ROUTES, self._follow_route),
            **self.legs,
        }

    def step(self, dt_s: float) -> None:
        """Do what the task requires."""
        task = self._panel.switch["pilot.task"]
        if task != self._task:
            self._task, self._waypoint, self._stuck_s, self._throttle_integral = task, 0, 0.0, 0.0
            if task == "none":
                self._brake(0.0)
            elif task == "hold":
                self._set_control("pedals", 0.0)
        if task in self._actions:
            self._actions[task](dt_s)

    def _hold(self, dt_s: float) -> None:
        """Press the brakes; release them once the parking brake is set."""
        self._brake(HOLD_PEDAL)
        if self._panel.switch["gear.parking_brake"] == "set":
            self._begin_task("none")
        elif self._speed_kt() > 1.0:
            self._throttle(0.0, 40.0 * dt_s)

    def _follow_route(self, dt_s: float) -> None:
        """Taxi along the points of a route, and stop at the last."""
        last = self._waypoint == len(ROUTES[self._task]) - 1
        left_m, course = self._next_waypoint()
        off = self._steer(course)
        passed = abs(off) > 80.0 and left_m < 2.5 * CAPTURE_M
        if last and (left_m < 1.5 or passed):
            self._begin_task("hold")
            return
        if not last and (left_m < CAPTURE_M or passed):
            self._waypoint += 1
        wanted = SLOW_TURN_KT if abs(off) > SLOW_TURN_DEG else self._panel.dial["pilot.taxi_speed"]
        self._taxi_at(min(wanted, 3.0 + 0.55 * left_m) if last else wanted, dt_s)
        self._release_parking_brake(dt_s)

    def _next_waypoint(self) -> tuple[float, float]:
        """Return the distance to the next point of the route, metres, and its bearing."""
        point, (along, right) = ROUTES[self._task][self._waypoint], self._position()
        to_along, to_right = point[0] - along, point[1] - right
        return hypot(to_along, to_right), RUNWAY_DEG + degrees(atan2(to_right, to_along))

    def _taxi_at(self, wanted_kt: float, dt_s: float) -> None:
        """Add a little throttle below the speed, brake above it."""
        missing = wanted_kt - self._speed_kt()
        self._throttle(clamp(3.0 + 3.5 * missing, 0.0, MAX_TAXI_THROTTLE), 8.0 * dt_s)
        self._brake(clamp(-12.0 * (missing + 1.5), 0.0, 60.0))
