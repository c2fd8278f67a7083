"""Simulator times and positions in a recording as text, such as 0:10:00.

Takes: text, or seconds.  Gives: seconds, or text.
"""

from __future__ import annotations

import math


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
