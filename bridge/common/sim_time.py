"""Times in a recording as people write them.

Takes: text.  Gives: seconds.
"""

from __future__ import annotations

import math


def parse_sim_time(text: str) -> float | None:
    """`0:10:00`, `10:00` or `600`, in seconds; None for anything else."""
    parts = text.split(":")
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        return None
    if len(parts) > 3 or not all(math.isfinite(number) and number >= 0 for number in numbers):
        return None
    return sum(number * 60.0**power for power, number in enumerate(reversed(numbers)))
