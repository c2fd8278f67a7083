"""Take-off roll: acceleration and distance, and the effects of mass, air density and wind.

These are checks of plausibility, not a performance calculation: they distinguish an impossible take-off from a
possible one.

Takes: metres, seconds, knots, kilonewtons, kilograms.  Gives: the same.
"""

from __future__ import annotations

from rules.arithmetic.atmosphere import GRAVITY_M_S2, KT_PER_M_S, SEA_LEVEL_KG_M3
from rules.arithmetic.domain import DomainError, require_not_negative, require_positive, require_within

# FAA-H-8083-25, chapter 11: rolling friction on a hard dry runway is about 0.02.
ROLLING_FRICTION = 0.02
# 14 CFR 25.113(a)(2): the all-engines take-off distance counts 115 % (from memory).
ALL_ENGINES_FACTOR = 1.15


def acceleration_m_s2(
    thrust_kn: float, mass_kg: float, slope_pct: float = 0.0, friction: float = ROLLING_FRICTION
) -> float:
    """Acceleration at the start of the roll, without air drag.

    Args:
        thrust_kn: Thrust of all engines.
        mass_kg: Mass now.
        slope_pct: Runway slope, uphill positive.
        friction: Coefficient of rolling friction.

    Source: Newton's second law with rolling friction, FAA-H-8083-25, chapter 11.
    """
    push_m_s2 = (
        require_not_negative("thrust in kN", thrust_kn) * 1000.0 / require_positive("mass in kg", mass_kg)
    )
    require_within("slope in %", slope_pct, -10.0, 10.0)
    return push_m_s2 - GRAVITY_M_S2 * (require_not_negative("friction", friction) + slope_pct / 100.0)


def rolling_acceleration_m_s2(
    thrust_kn: float,
    mass_kg: float,
    airspeed_kt: float,
    drag_area_m2: float,
    density_ratio: float = 1.0,
    slope_pct: float = 0.0,
    friction: float = ROLLING_FRICTION,
) -> float:
    """Acceleration in the roll at a speed: thrust less rolling friction and air drag.

    Lift is neglected, so that the wheels carry all of the mass: the result is too low by at most the friction.

    Args:
        thrust_kn: Thrust of all engines at this speed.
        mass_kg: Present mass.
        airspeed_kt: True airspeed.
        drag_area_m2: Drag coefficient on the ground times the wing area.
        density_ratio: Air density relative to the standard sea level.
        slope_pct: Runway slope, uphill positive.
        friction: Coefficient of rolling friction.

    Source: Newton's second law with the forces of a ground roll, FAA-H-8083-25, chapter 11; drag as q S CD, chapter 5.
    """
    speed_m_s = require_not_negative("airspeed in kt", airspeed_kt) / KT_PER_M_S
    density_kg_m3 = SEA_LEVEL_KG_M3 * require_positive("density ratio", density_ratio)
    drag_n = 0.5 * density_kg_m3 * speed_m_s**2 * require_not_negative("drag area in m2", drag_area_m2)
    on_wheels_m_s2 = acceleration_m_s2(thrust_kn, mass_kg, slope_pct, friction)
    return on_wheels_m_s2 - drag_n / mass_kg


def mean_acceleration_m_s2(speed_kt: float, distance_m: float) -> float:
    """Constant acceleration that reaches a ground speed from rest in a distance.  Source: v^2 = 2 a s."""
    speed_m_s = require_positive("speed in kt", speed_kt) / KT_PER_M_S
    return speed_m_s**2 / (2.0 * require_positive("distance in m", distance_m))


def ground_roll_m(speed_kt: float, acceleration_m_s2: float) -> float:
    """Distance from rest to a ground speed.  Source: v^2 = 2 a s."""
    speed_m_s = require_not_negative("speed in kt", speed_kt) / KT_PER_M_S
    return speed_m_s**2 / (2.0 * require_positive("acceleration in m/s2", acceleration_m_s2))


def time_to_speed_s(speed_kt: float, acceleration_m_s2: float) -> float:
    """Time from rest to a ground speed.  Source: v = a t."""
    return (
        require_not_negative("speed in kt", speed_kt)
        / KT_PER_M_S
        / require_positive("acceleration in m/s2", acceleration_m_s2)
    )


def roll_at_mass_m(roll_m: float, reference_kg: float, mass_kg: float) -> float:
    """Take-off roll at another mass; proportional to its square.  Source: FAA-H-8083-25, chapter 11."""
    ratio = require_positive("mass in kg", mass_kg) / require_positive("reference mass in kg", reference_kg)
    return require_not_negative("roll in m", roll_m) * ratio**2


def roll_in_air_m(roll_m: float, density_ratio: float) -> float:
    """Take-off roll at another air density, from the roll on the standard day at sea level.

    Source: FAA-H-8083-25, chapter 11: the square of the speed is proportional to 1/sigma, and the thrust of an
    unsupercharged engine to sigma.
    """
    return require_not_negative("roll in m", roll_m) / require_positive("density ratio", density_ratio) ** 2


def roll_in_wind_m(roll_m: float, liftoff_kt: float, headwind_kt: float) -> float:
    """Take-off roll in a headwind, from the roll in still air (a tailwind is negative).

    Source: FAA-H-8083-25, chapter 11 ((1 - wind / lift-off speed) squared).
    """
    share = headwind_kt / require_positive("lift-off speed in kt", liftoff_kt)
    if share >= 1.0:
        raise DomainError(f"a headwind of {headwind_kt:g} kt", "less than the lift-off speed")
    return float(require_not_negative("roll in m", roll_m) * (1.0 - share) ** 2)


def distance_with_margin_m(distance_m: float) -> float:
    """All-engines take-off distance with the margin of the rules.  Source: 14 CFR 25.113(a)(2) (from memory): 115 %."""
    return require_not_negative("distance in m", distance_m) * ALL_ENGINES_FACTOR
