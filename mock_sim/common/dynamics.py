"""Small building blocks of motion over time, shared by every system.

Takes: a value, where it is going and how long has passed.  Gives: the value after that time.
"""

from __future__ import annotations

SUB_STEP_S = 0.1
"""The longest time that a system is advanced in one go; chosen so that the quickest lag below stays smooth."""


def clamp(value: float, low: float, high: float) -> float:
    """The value, held between two bounds.

    Args:
        value: any number.
        low: the least that may come out.
        high: the most that may come out.
    """
    return low if value < low else high if value > high else value


def lag(value: float, target: float, time_constant_s: float, dt_s: float) -> float:
    """The value after it has crept towards a target for a while (first-order lag).

    Args:
        value: where it is.
        target: where it would end.
        time_constant_s: seconds for 63 % of the way.
        dt_s: seconds that have passed.
    """
    return value + (target - value) * min(1.0, dt_s / time_constant_s)


def slew(value: float, target: float, rate_per_s: float, dt_s: float) -> float:
    """The value after it has moved towards a target at a steady rate.

    Args:
        value: where it is.
        target: where it stops.
        rate_per_s: units in one second, positive.
        dt_s: seconds that have passed.
    """
    most = rate_per_s * dt_s
    return value + clamp(target - value, -most, most)


def fraction_between(value: float, low: float, high: float) -> float:
    """How far the value is on the way from one bound to the other, 0 to 1.

    Args:
        value: any number.
        low: where the way begins.
        high: where the way ends, above `low`.
    """
    return clamp((value - low) / (high - low), 0.0, 1.0)
