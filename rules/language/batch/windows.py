"""Windows over a whole recording: highest, lowest, change and rate at every point at which they may be other than before.

Such points are those of the term itself, and the moments at which something leaves the window.

Takes: a line, a span.  Gives: a line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.language.batch.step_series import StepSeries, without_repeats
from rules.language.equality import FULL_CIRCLE_DEG
from rules.signals.columns import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class RunArrays:
    """What a term was, stretch by stretch: from `start_s` until `end_s`, the last one without end.

    Of several steps at one time the last counts; the first run is what was before the first step, unknown.
    """

    start_s: FloatArray
    end_s: FloatArray
    values: FloatArray


def runs_of(time_s: FloatArray, value: FloatArray) -> RunArrays:
    """The runs of a line's points."""
    last = np.append(time_s[1:] != time_s[:-1], True)
    start_s, kept = np.append(-np.inf, time_s[last]), np.append(np.nan, value[last])
    new = np.append(True, (kept[1:] != kept[:-1]) & ~(np.isnan(kept[1:]) & np.isnan(kept[:-1])))
    start_s, kept = start_s[new], kept[new]
    return RunArrays(start_s, np.append(start_s[1:], np.inf), kept)


@dataclass(frozen=True, slots=True)
class _Points:
    """Where a window is looked at, and what its term is there."""

    key: IntArray
    time_s: FloatArray
    present: FloatArray


def extreme(
    series: StepSeries, span_s: float, sign: int, sim_s: FloatArray, data_start_s: float
) -> StepSeries:
    """The highest (`sign` 1) or lowest (-1) over the last `span_s`; `begun_s` is since when the term's signals are there."""
    time_s = series.times_s(sim_s)
    runs = runs_of(time_s, series.values)
    points = _points(series, time_s, runs, span_s, sim_s)
    first = (runs.end_s + span_s).searchsorted(points.time_s, "right")
    last = runs.start_s.searchsorted(points.time_s, "left") - 1
    signed = np.where(np.isnan(runs.values), -np.inf, sign * runs.values)
    best = np.maximum(_range_maximum(signed, np.minimum(first, last), last), sign * points.present)
    gap_s = _gaps(runs, points, data_start_s)
    value = np.where(np.isnan(points.present) | (gap_s + span_s > points.time_s), np.nan, sign * best)
    return without_repeats(StepSeries(points.key, value, points.time_s))


def change(
    series: StepSeries, span_s: float, sim_s: FloatArray, *, per_s: float, on_circle: bool
) -> StepSeries:
    """Now less then, divided by `per_s`; on the circle the short way round."""
    time_s = series.times_s(sim_s)
    runs = runs_of(time_s, series.values)
    points = _points(series, time_s, runs, span_s, sim_s)
    first = (runs.end_s + span_s).searchsorted(points.time_s, "right")
    last = runs.start_s.searchsorted(points.time_s, "left") - 1
    then = runs.values[np.minimum(first, last)]
    moved = points.present - then
    if on_circle:
        half = FULL_CIRCLE_DEG / 2
        moved = (moved + half) % FULL_CIRCLE_DEG - half
    gap_s = _gaps(runs, points, -np.inf)
    value = np.where(np.isnan(points.present) | (gap_s + span_s > points.time_s), np.nan, moved / per_s)
    return without_repeats(StepSeries(points.key, value, points.time_s))


def _points(
    series: StepSeries, time_s: FloatArray, runs: RunArrays, span_s: float, sim_s: FloatArray
) -> _Points:
    """The term's own points, and those at which a run leaves the window."""
    leaves_s = runs.end_s[:-1] + span_s
    leaves_s = leaves_s[leaves_s <= sim_s[-1]]
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
    return _Points(keys, times_s, np.append(series.values, np.nan)[entries])


def _gaps(runs: RunArrays, points: _Points, data_start_s: float) -> FloatArray:
    """For each point the end of the latest time for which the term was unknown, later than the beginning."""
    unknown = np.isnan(runs.values[:-1])
    ends_s = runs.end_s[:-1][unknown]
    ends_s = ends_s[ends_s > data_start_s]
    gap_s = np.append(ends_s, -np.inf)[ends_s.searchsorted(points.time_s, "right") - 1]
    # Of several steps at one time an earlier one may end a gap that the last one does not.
    run = runs.start_s.searchsorted(points.time_s, "left") - 1
    ended = np.isnan(runs.values[run]) & ~np.isnan(points.present) & (points.time_s > data_start_s)
    return np.where(ended, points.time_s, gap_s)


def _range_maximum(value: FloatArray, first: IntArray, last: IntArray) -> FloatArray:
    """The highest of `value[first[i]] .. value[last[i]]` for each i, from tables of powers of two."""
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
