"""Clamp, first-order lag, rate limit and interpolation, used by every system.

Takes: a value, its target and the elapsed time.  Gives: the value after that time.
"""

from __future__ import annotations

SUB_STEP_S = 0.1
"""The longest step of a system, seconds; short enough for the smallest time constant in use."""


def clamp(value: float, low: float, high: float) -> float:
    """Limit a value to a range.

    Args:
        value: any number.
        low: the lower bound.
        high: the upper bound.
    """
    return low if value < low else high if value > high else value


def lag(value: float, target: float, time_constant_s: float, dt_s: float) -> float:
    """Move a value towards a target exponentially (first-order lag).

    Args:
        value: the present value.
        target: its final value.
        time_constant_s: seconds for 63 % of the way.
        dt_s: elapsed seconds.
    """
    return value + (target - value) * min(1.0, dt_s / time_constant_s)


def slew(value: float, target: float, rate_per_s: float, dt_s: float) -> float:
    """Move a value towards a target at a constant rate.

    Args:
        value: the present value.
        target: its final value.
        rate_per_s: units a second, positive.
        dt_s: elapsed seconds.
    """
    most = rate_per_s * dt_s
    return value + clamp(target - value, -most, most)


def fraction_between(value: float, low: float, high: float) -> float:
    """Return the position of a value between two bounds, 0 to 1.

    Args:
        value: any number.
        low: the value for 0.
        high: the value for 1, above `low`.
    """
    return clamp((value - low) / (high - low), 0.0, 1.0)
