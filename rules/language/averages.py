"""Average over a time: when it is computed, and how, so that both evaluators give the same bits.

The true average changes at every moment.  It is computed 20 times for each window, at the multiples of a twentieth of
its length on the simulator's clock, and holds until the next of these times.  So a window of 10 s is computed every
0.5 s, over the 10 s before:

    time       100.0     100.5     101.0
    average    |---------|---------|-------
               over 90.0 to 100.0, then over 90.5 to 100.5, ...

Takes: times, runs of constant value.  Gives: the times of computation, and the average.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, fsum
from typing import TypeAlias

POINTS_PER_WINDOW = 20
"""Number of times that an average is computed in the length of its window."""

Run: TypeAlias = tuple[float, float, float]
"""Start, end and value of a time of constant value."""


def latest_point_s(time_s: float, span_s: float) -> float:
    """Give the latest time at which an average over `span_s` was computed."""
    step_s = span_s / POINTS_PER_WINDOW
    number = floor(time_s / step_s)
    if (number + 1) * step_s <= time_s:
        number += 1
    elif number * step_s > time_s:
        number -= 1
    return number * step_s


def next_point_s(time_s: float, span_s: float) -> float:
    """Give the next time at which an average over `span_s` is computed; always after `time_s`."""
    step_s = span_s / POINTS_PER_WINDOW
    number = floor(time_s / step_s)
    return next(at_s for at_s in ((number + more) * step_s for more in range(4)) if at_s > time_s)


def average_of(runs: Sequence[Run], end_s: float, span_s: float) -> float:
    """Average the runs that overlap (end - span, end), weighted by their time in it."""
    if len(runs) == 1:
        return runs[0][2]
    begin_s = end_s - span_s
    weighted = (value * (min(run_end_s, end_s) - max(start_s, begin_s)) for start_s, run_end_s, value in runs)
    return fsum(weighted) / span_s
