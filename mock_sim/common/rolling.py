"""Ground roll: friction, brakes and turning on the wheels.

Takes: forces, braking, steering angle.  Gives: the speed along the nose after a step, and the turn rate.
"""

from __future__ import annotations

from math import copysign, radians, tan

from mock_sim.common.dynamics import clamp, slew
from mock_sim.common.forces import GRAVITY, Forces

ROLLING_FRICTION = 0.014
BRAKE_MS2 = 3.6


def free_rolling_speed_ms(forces: Forces, braking: float, speed_ms: float, dt_s: float) -> float:
    """Return the speed under the aeroplane's own power after a step, m/s; friction stops but never pushes.

    Args:
        forces: on the aeroplane.
        braking: 0 to 1.
        speed_ms: speed before the step.
        dt_s: length of the step, seconds.
    """
    mass = forces.weight_n / GRAVITY
    on_wheels = clamp(1.0 - forces.lift_n / forces.weight_n, 0.0, 1.0)
    drive = (forces.thrust_n - copysign(forces.drag_n, speed_ms)) / mass
    hold = (ROLLING_FRICTION * GRAVITY + BRAKE_MS2 * braking) * on_wheels
    if abs(speed_ms) < 0.02 and abs(drive) <= hold:
        return 0.0
    after = speed_ms + drive * dt_s
    return slew(after, 0.0, hold, dt_s)


def turn_rate(speed_ms: float, nose_deg: float, wheelbase_m: float) -> float:
    """Return the turn rate of the nose, rad/s; the tyres slide above a lateral load of 0.2 g.

    Args:
        speed_ms: speed along the nose.
        nose_deg: nose-wheel angle, right positive.
        wheelbase_m: from nose wheel to main wheels.
    """
    rate = speed_ms * tan(radians(clamp(nose_deg, -70.0, 70.0))) / wheelbase_m
    most = 0.2 * GRAVITY / max(1.0, abs(speed_ms))
    return clamp(rate, -most, most)
