"""Rolling: what moves, holds and turns the aeroplane on its wheels.

Takes: forces, brakes, chocks, tug.  Gives: the speed along the nose after a while, and the rate of turn.
"""

from __future__ import annotations

from math import copysign, radians, tan

from mock_sim.common.dynamics import clamp, slew
from mock_sim.common.forces import GRAVITY, Forces

ROLLING_FRICTION = 0.014
BRAKE_MS2 = 3.6


def free_rolling_speed_ms(forces: Forces, braking: float, speed_ms: float, dt_s: float) -> float:
    """Speed under the aeroplane's own power, m/s; friction stops but never pushes.

    Args:
        forces: what air and engines do.
        braking: 0 to 1.
        speed_ms: speed before.
        dt_s: seconds that pass.
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
    """Rate of turn of the nose, radians a second; the tyres slide above a fifth of a g.

    Args:
        speed_ms: speed along the nose.
        nose_deg: nose-wheel angle, right positive.
        wheelbase_m: from nose wheel to main wheels.
    """
    rate = speed_ms * tan(radians(clamp(nose_deg, -70.0, 70.0))) / wheelbase_m
    most = 0.2 * GRAVITY / max(1.0, abs(speed_ms))
    return clamp(rate, -most, most)
