"""Rolling: what moves, holds and turns the aeroplane on its wheels.

Takes: forces, brakes, chocks, tug.  Gives: the speed along the nose after a while, and the rate of turn.
"""

from __future__ import annotations

from math import copysign, radians, tan

from mock_sim.common.atmosphere import KT_MS
from mock_sim.common.dynamics import clamp, slew
from mock_sim.common.panel import Panel
from mock_sim.twin_jet.airframe import Forces
from mock_sim.twin_jet.gear_brakes import GearBrakes

GRAVITY = 9.80665
ROLLING_FRICTION = 0.014
BRAKE_MS2 = 3.6
WHEELBASE_M = 14.5
CHOCKS_HOLD_N = 60000.0
TUG_MS2 = 0.25


def ground_roll_speed_ms(
    panel: Panel, gear: GearBrakes, forces: Forces, speed_ms: float, dt_s: float
) -> float:
    """Speed along the nose after a while, m/s, negative backwards.

    Args:
        panel: for the tug and the chocks.
        gear: for the brakes.
        forces: what air and engines do.
        speed_ms: speed before.
        dt_s: seconds that pass.
    """
    if panel.switch["gear.chocks"] == "on" and abs(speed_ms) < 0.3 and forces.thrust_n < CHOCKS_HOLD_N:
        return 0.0
    if panel.switch["gear.tug"] == "attached":
        asked = 0.0 if gear.is_held else panel.dial["tug.speed"] * KT_MS
        return slew(speed_ms, asked, TUG_MS2 if abs(asked) > 0.0 else 4 * TUG_MS2, dt_s)
    return free_rolling_speed_ms(forces, gear.braking, speed_ms, dt_s)


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


def turn_rate(speed_ms: float, nose_deg: float, wheelbase_m: float = WHEELBASE_M) -> float:
    """Rate of turn of the nose, radians a second; the tyres slide above a fifth of a g.

    Args:
        speed_ms: speed along the nose.
        nose_deg: nose-wheel angle, right positive.
        wheelbase_m: from nose wheel to main wheels.
    """
    rate = speed_ms * tan(radians(clamp(nose_deg, -70.0, 70.0))) / wheelbase_m
    most = 0.2 * GRAVITY / max(1.0, abs(speed_ms))
    return clamp(rate, -most, most)
