"""Step series: numbers that are constant from one point of a recording to the next.

A point is a step, or a time before a step at which a value leaves a window.  Its key is twice the number of the step,
plus one for the step itself; points before the same step are ordered by `time_s`:

    step            3                  4
    time      12.0 s   12.4   12.7   13.0
    key            7      8      8      9
    time_s      12.0   12.4   12.7   13.0

Takes: keys, times and values.  Gives: `StepSeries`, and several series aligned to the same points.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from rules.signals.columns import FloatArray, IntArray

TruthArray: TypeAlias = NDArray[np.int8]
UNKNOWN = -1
"""Code for unknown in arrays of truths: 1 true, 0 false, -1 unknown."""


@dataclass(frozen=True, slots=True)
class StepSeries:
    """Value from each point on; NaN where unknown, and before the first point.

    `time_s` is None where every point is a step.
    """

    keys: IntArray
    values: FloatArray
    time_s: FloatArray | None = None

    def times_s(self, sim_s: FloatArray) -> FloatArray:
        """Give the time of each point."""
        return sim_s[self.keys >> 1] if self.time_s is None else self.time_s

    def at_step(self, step: int) -> float:
        """Give the value after a step."""
        entry = int(self.keys.searchsorted(2 * step + 1, "right")) - 1
        return float(self.values[entry]) if entry >= 0 else float("nan")


def series_of_steps(at: IntArray, value: FloatArray) -> StepSeries:
    """Make a series whose points are steps."""
    return StepSeries(2 * at + 1, value)


def with_gaps(series: StepSeries, gaps: Mapping[int, float], sim_s: FloatArray) -> StepSeries:
    """Make a series of steps unknown from the start of each gap until the step that ends it.

    step            3               4
    time      12.0 s                13.0
    series      20                  20
    a gap from 12.2 s until step 4:
    key            7      8         9
    time        12.0      12.2      13.0
    value         20      ?         20
    """
    if not gaps:
        return series
    steps = np.fromiter(gaps, np.int64, len(gaps))
    restored = _values_of_entries(series, series.keys.searchsorted(2 * steps + 1, "right") - 1)
    keys = np.concatenate((series.keys, 2 * steps, 2 * steps + 1))
    values = np.concatenate((series.values, np.full(len(steps), np.nan), restored))
    starts_s = np.fromiter(gaps.values(), np.float64, len(gaps))
    times_s = np.concatenate((series.times_s(sim_s), starts_s, sim_s[steps]))
    keys, first = np.unique(keys, return_index=True)
    return StepSeries(keys, values[first], times_s[first])


def align(
    series: Sequence[StepSeries], sim_s: FloatArray
) -> tuple[IntArray, FloatArray | None, list[FloatArray]]:
    """Align series to the same points: the points of any of them, each with the value that is valid there.

        a          10 at 7              12 at 9
        b                   5 at 8      6 at 9
        keys       7        8           9
        values a   10       10          12
        values b   ?        5           6

    Returns:
        The keys, the times (None where all are steps), and the values of each series.
    """
    if len(series) == 1:
        return series[0].keys, series[0].time_s, [series[0].values]
    if all(each.time_s is None for each in series):
        return _align_steps(series, len(sim_s))
    times = [each.times_s(sim_s) for each in series]
    keys = np.concatenate([each.keys for each in series])
    all_s = np.concatenate(times)
    order = np.lexsort((all_s, keys))
    keys, all_s = keys[order], all_s[order]
    new = np.append(True, (keys[1:] != keys[:-1]) | (all_s[1:] != all_s[:-1]))
    keys, all_s = keys[new], all_s[new]
    values = [_values_at(each, at_s, keys, all_s) for each, at_s in zip(series, times, strict=True)]
    return keys, all_s, values


def _align_steps(series: Sequence[StepSeries], steps: int) -> tuple[IntArray, None, list[FloatArray]]:
    """Align series of steps: to every step where they have many points, else to the points of any of them."""
    if sum(len(each.keys) for each in series) > steps // 2:
        keys = 2 * np.arange(steps, dtype=np.int64) + 1
        return keys, None, [_at_every_step(each, steps) for each in series]
    keys = np.unique(np.concatenate([each.keys for each in series]))
    return (
        keys,
        None,
        [_values_of_entries(each, each.keys.searchsorted(keys, "right") - 1) for each in series],
    )


def _at_every_step(series: StepSeries, steps: int) -> FloatArray:
    """Expand a series to every step."""
    at = np.append(series.keys >> 1, steps)
    before = np.full(int(at[0]), np.nan)
    return np.concatenate((before, np.repeat(series.values, np.diff(at))))


def _values_of_entries(series: StepSeries, entries: IntArray) -> FloatArray:
    """Give the values of entries; -1 is the time before the first."""
    return np.append(series.values, np.nan)[entries]


def _values_at(series: StepSeries, at_s: FloatArray, keys: IntArray, times_s: FloatArray) -> FloatArray:
    """Give a series' value at each of these points."""
    entries = series.keys.searchsorted(keys, "right") - 1
    between = (keys & 1) == 0
    entries[between] = at_s.searchsorted(times_s[between], "right") - 1
    return _values_of_entries(series, entries)


def without_repeats(series: StepSeries) -> StepSeries:
    """Drop the points at which nothing changes."""
    value = series.values
    other = (value[1:] != value[:-1]) & ~(np.isnan(value[1:]) & np.isnan(value[:-1]))
    changes = np.append(True, other) if len(value) else np.zeros(0, bool)
    return StepSeries(
        series.keys[changes], value[changes], None if series.time_s is None else series.time_s[changes]
    )
