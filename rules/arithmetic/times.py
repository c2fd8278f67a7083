"""Durations between readings of an aeroplane's clock.

Takes: seconds of the day.  Gives: seconds.
"""

from __future__ import annotations

from rules.arithmetic.domain import require_within

DAY_S = 86400.0


def duration_of_day_s(begin_s: float, end_s: float) -> float:
    """Duration between two readings of a clock that restarts at midnight; less than a day.

    Args:
        begin_s: Seconds since midnight.
        end_s: Seconds since midnight, of the same day or the next.

    Source: definition.
    """
    for reading_s in (begin_s, end_s):
        require_within("seconds of the day", reading_s, 0.0, DAY_S)
    return (end_s - begin_s) % DAY_S
