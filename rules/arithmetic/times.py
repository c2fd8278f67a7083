"""Times of a flight in UTC: durations, clock times and their text.

Takes: aware times, or seconds of the day from an aeroplane's clock.  Gives: seconds, and text as in a journey log.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from rules.arithmetic.domain import DomainError, require_within

MAX_DURATION_H = 24.0
DAY_S = 86400.0


def duration_s(begin: datetime, end: datetime) -> float:
    """Duration between two moments.

    Raises:
        DomainError: A moment is not in UTC, the end is before the beginning, or a day or more after it.
    """
    for moment in (begin, end):
        if moment.utcoffset() != timedelta(0):
            raise DomainError(f"a time of {moment.isoformat(timespec='minutes')}", "a time in UTC")
    seconds = (end - begin).total_seconds()
    if not 0.0 <= seconds < MAX_DURATION_H * 3600.0:
        raise DomainError(f"a duration of {seconds / 3600.0:.1f} h", "0 to 24 h")
    return seconds


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
