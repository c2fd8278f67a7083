"""Clocks, dates, durations and ages as text, for screens and documents.

Takes: seconds, or text.  Gives: text, or seconds.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime

from rules.arithmetic.domain import require_not_negative, require_within
from rules.arithmetic.times import DAY_S

# -- clocks ------------------------------------------------------------------------------------------------


def parse_sim_time(text: str) -> float | None:
    """Parse `0:10:00`, `10:00` or `600` into seconds; None for any other text."""
    parts = text.split(":")
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        return None
    if len(parts) > 3 or not all(math.isfinite(number) and number >= 0 for number in numbers):
        return None
    return sum(number * 60.0**power for power, number in enumerate(reversed(numbers)))


def format_sim_time(seconds: float) -> str:
    """Format seconds as h:mm:ss; fractions are cut off, negative times are 0:00:00."""
    total = int(max(0.0, seconds))
    return f"{total // 3600}:{total // 60 % 60:02d}:{total % 60:02d}"


def stopwatch(seconds: float) -> str:
    """Format a measured time to a tenth of a second (0:07.3, 1:02.0), with a minus sign before the start."""
    tenths = round(abs(seconds) * 10)
    sign = "-" if seconds < 0 and tenths else ""
    return f"{sign}{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"


def format_clock_time(of_day_s: float) -> str:
    """Format a clock reading as `HH:MM`, seconds dropped.  Source: common practice of journey logs, no source.

    Raises:
        DomainError: The reading is not within a day.
    """
    minutes = int(require_within("seconds of the day", of_day_s, 0.0, DAY_S) % DAY_S / 60.0)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


# -- dates and times of day, in UTC ------------------------------------------------------------------------


def long_date(utc: float) -> str:
    """Write a date as `25 November 2026, 04:00 UTC`."""
    when = datetime.fromtimestamp(utc, UTC)
    return f"{when.day} {when:%B %Y, %H:%M} UTC"


def short_date(utc: float) -> str:
    """Write a date as `2026-11-25 04:00`, in UTC."""
    return f"{datetime.fromtimestamp(utc, UTC):%Y-%m-%d %H:%M}"


def time_of_day(utc: float) -> str:
    """Write a time of day as `04:05:12`, in UTC."""
    return f"{datetime.fromtimestamp(utc, UTC):%H:%M:%S}"


# -- durations and ages ------------------------------------------------------------------------------------


def format_duration(seconds: float) -> str:
    """Format a duration as `1 h 16 min`, or `49 min`, to the nearest minute, halves up.

    Source: common practice of journey logs, no source.

    Raises:
        DomainError: The duration is negative.
    """
    minutes = int(require_not_negative("time in s", seconds) / 60.0 + 0.5)
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"


def duration_text(seconds: float) -> str:
    """Write a duration as `42 s`, `3 min 05 s` or `1 h 8 min`."""
    if seconds < 60:
        return f"{seconds:.0f} s"
    if seconds < 3600:
        return f"{int(seconds // 60)} min {int(seconds % 60):02d} s"
    return format_duration(seconds)


def short_duration(seconds: float) -> str:
    """Format a duration that still grows as 8 s, 3 min or 1 h 20 min: only what has passed, nothing rounded up."""
    whole = int(max(0.0, seconds))
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min"
    return f"{whole // 3600} h {whole // 60 % 60:02d} min"


def time_ago(seconds: float) -> str:
    """Format the time since an event."""
    return f"{short_duration(seconds)} ago" if seconds >= 1 else "just now"


def age_text(seconds: float) -> str:
    """Format an age, to a tenth of a second below one minute."""
    return f"{seconds:.1f} s old" if seconds < 60 else f"{short_duration(seconds)} old"
