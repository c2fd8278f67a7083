"""Windows over a whole recording: highest, lowest, change and rate, at every point where they may change.

A window changes where its term changes, and where a run of the term (a time of constant value) leaves it.  With a
window of 5 s and the runs A (until 10 s), B (until 12 s) and C:

    time      10        12        15        17
    term   A  |    B    |    C
    window          A, B, C       | B, C    | C

At 15 s A leaves: a value on [a, b) is in the window [t - 5, t] until t = b + 5.  So the points are 10 and 12 (the
term's own) and 15 and 17 (ends of runs plus the span).  A point between two steps has an even key (see
`step_series`).  An unknown run makes the window unknown until it has left.

Takes: a step series, a span.  Gives: a step series.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.language.batch.step_series import StepSeries, without_repeats
from rules.signals.columns import FloatArray, IntArray
from rules.signals.equality import short_way_deg


@dataclass(frozen=True, slots=True)
class RunArrays:
    """Runs of a term: constant from `start_s` until `end_s`, the last one without end.

    Of several steps at one time the last counts; the first run is the unknown time before the first step.
    """

    start_s: FloatArray
    end_s: FloatArray
    values: FloatArray


def runs_of(time_s: FloatArray, value: FloatArray) -> RunArrays:
    """Split a series into runs."""
    last = np.append(time_s[1:] != time_s[:-1], True)
    start_s, values = np.append(-np.inf, time_s[last]), np.append(np.nan, value[last])
    new = np.append(True, (values[1:] != values[:-1]) & ~(np.isnan(values[1:]) & np.isnan(values[:-1])))
    start_s, values = start_s[new], values[new]
    return RunArrays(start_s, np.append(start_s[1:], np.inf), values)


@dataclass(frozen=True, slots=True)
class WindowPoints:
    """Points of a window, and the present value of its term there."""

    key: IntArray
    time_s: FloatArray
    present: FloatArray


def extreme(
    series: StepSeries, span_s: float, sign: int, sim_s: FloatArray, data_start_s: float
) -> StepSeries:
    """Compute the highest (`sign` 1) or lowest (-1) over the last `span_s`; data before `data_start_s` is not required."""
    time_s = series.times_s(sim_s)
    runs = runs_of(time_s, series.values)
    points = points_of(series, time_s, runs.end_s[:-1] + span_s, sim_s)
    first = (runs.end_s + span_s).searchsorted(points.time_s, "right")
    last = runs.start_s.searchsorted(points.time_s, "left") - 1
    # The runs in the window [t - span, t] are `first` to `last`: the first one that ends after t - span, and the last one
    # that began before t.  A span of 5 s, runs A until 10 s, B until 12 s, C:
    #
    #     t        11      15      16      17
    #     first    A       B       B       C        A ends at 10: 10 + 5 is not after 15
    #     last     B       C       C       C
    #
    # The value at t itself is added from `present`, since a run that begins at t is not one of them.
    signed = np.where(np.isnan(runs.values), -np.inf, sign * runs.values)
    best = np.maximum(_range_maximum(signed, np.minimum(first, last), last), sign * points.present)
    gap_s = gap_ends(runs, points, data_start_s)
    value = np.where(np.isnan(points.present) | (gap_s + span_s > points.time_s), np.nan, sign * best)
    return without_repeats(StepSeries(points.key, value, points.time_s))


def change(
    series: StepSeries, span_s: float, sim_s: FloatArray, *, per_s: float, on_circle: bool
) -> StepSeries:
    """Compute the present value less the value at the window's start, divided by `per_s`; on the circle the short way round."""
    time_s = series.times_s(sim_s)
    runs = runs_of(time_s, series.values)
    points = points_of(series, time_s, runs.end_s[:-1] + span_s, sim_s)
    first = (runs.end_s + span_s).searchsorted(points.time_s, "right")
    last = runs.start_s.searchsorted(points.time_s, "left") - 1
    then = runs.values[np.minimum(first, last)]
    moved = points.present - then
    if on_circle:
        moved = short_way_deg(moved)
    gap_s = gap_ends(runs, points, -np.inf)
    value = np.where(np.isnan(points.present) | (gap_s + span_s > points.time_s), np.nan, moved / per_s)
    return without_repeats(StepSeries(points.key, value, points.time_s))


def points_of(series: StepSeries, time_s: FloatArray, extra_s: FloatArray, sim_s: FloatArray) -> WindowPoints:
    """Merge the term's own points and other times, such as those at which a run leaves the window."""
    # A run that ended at 10.0 s leaves a window of 2.5 s at 12.5 s.  If a step has that time, the point is the step, with an
    # odd key; otherwise it lies before the next step, with the even key of that one:
    #
    #     step        3               4                    step        3               4
    #     time        12.0            13.0                 time        12.0            12.5
    #     key         7       8       9                    key         7               9
    #     leaves              12.5                         leaves                      12.5
    leaves_s = extra_s[extra_s <= sim_s[-1]]
    step = sim_s.searchsorted(leaves_s, "left")
    on_step = sim_s[step] == leaves_s
    keys = np.concatenate((series.keys, 2 * step + on_step))
    times_s = np.concatenate((time_s, leaves_s))
    order = np.lexsort((times_s, keys))
    keys, times_s = keys[order], times_s[order]
    new = np.append(True, (keys[1:] != keys[:-1]) | (times_s[1:] != times_s[:-1]))
    keys, times_s = keys[new], times_s[new]
    entries = series.keys.searchsorted(keys, "right") - 1
    between = (keys & 1) == 0
    entries[between] = time_s.searchsorted(times_s[between], "right") - 1
    return WindowPoints(keys, times_s, np.append(series.values, np.nan)[entries])


def gap_ends(runs: RunArrays, points: WindowPoints, data_start_s: float) -> FloatArray:
    """Give for each point the end of the latest unknown time of the term after the start of the data."""
    # A window of 5 s over a term that was unknown from 10 s to 12 s:
    #
    #     time      5        10       12       17
    #     term      20       ?        21
    #     gap       none     none     12       12       the window is unknown while gap + 5 is after the time
    #     window    20       ?        ?        21
    unknown = np.isnan(runs.values[:-1])
    ends_s = runs.end_s[:-1][unknown]
    ends_s = ends_s[ends_s > data_start_s]
    gap_s = np.append(ends_s, -np.inf)[ends_s.searchsorted(points.time_s, "right") - 1]
    # Of several steps at one time only the last makes a run, but an earlier one may have ended the unknown time.
    run = runs.start_s.searchsorted(points.time_s, "left") - 1
    ended = np.isnan(runs.values[run]) & ~np.isnan(points.present) & (points.time_s > data_start_s)
    return np.where(ended, points.time_s, gap_s)


def _range_maximum(value: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
    """Give the maximum of `value[first[i]] .. value[last[i]]` for each i.

    Two overlapping blocks of a power of two cover each range; `table[k]` is the maximum of the block that begins
    at k.  A range of 6 needs the blocks of 4 at its two ends:

        range     a b c d e f
        blocks    a b c d
                      c d e f
    """
    length = last - first + 1
    level = np.floor(np.log2(np.maximum(length, 1))).astype(np.int64)
    found = np.full(len(first), -np.inf)
    table = value
    for power in range(int(level.max(initial=0)) + 1):
        here = np.flatnonzero(level == power)
        end = last[here] - (1 << power) + 1
        found[here] = np.maximum(table[first[here]], table[end])
        if len(table) > (1 << power):
            table = np.maximum(table[: -(1 << power)], table[1 << power :])
    return found
