"""Lines: numbers that are constant from one point of a recording to the next.

A point is a step, or a time before a step at which a window lets go of something.  `key` is twice the step, plus one for
the step itself; points of one key before a step are told apart by `time_s`.

Takes: keys, times and values.  Gives: `Line`, and lines brought to the same points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from rules.signals.columns import FloatArray, IntArray

TruthArray: TypeAlias = NDArray[np.int8]
UNKNOWN = -1
"""In arrays of truths: 1 true, 0 false, -1 unknown."""


@dataclass(frozen=True, slots=True)
class StepSeries:
    """The value from each point on; not a number where unknown, and before the first point.

    `time_s` is None where every point is a step.
    """

    keys: IntArray
    values: FloatArray
    time_s: FloatArray | None = None

    def times_s(self, sim_s: FloatArray) -> FloatArray:
        """When each point is."""
        return sim_s[self.keys >> 1] if self.time_s is None else self.time_s

    def at_step(self, step: int) -> float:
        """The value that a step leaves."""
        entry = int(self.keys.searchsorted(2 * step + 1, "right")) - 1
        return float(self.values[entry]) if entry >= 0 else float("nan")


def series_of_steps(at: IntArray, value: FloatArray) -> StepSeries:
    """A line of steps."""
    return StepSeries(2 * at + 1, value)


def align(
    series: Sequence[StepSeries], sim_s: FloatArray
) -> tuple[IntArray, FloatArray | None, list[FloatArray]]:
    """Bring lines to the same points.

    Returns:
        The keys, the times (None where all are steps), and the values of each line.
    """
    if len(series) == 1:
        return series[0].keys, series[0].time_s, [series[0].values]
    if all(line.time_s is None for line in series):
        return _align_steps(series, len(sim_s))
    times = [line.times_s(sim_s) for line in series]
    keys = np.concatenate([line.keys for line in series])
    all_s = np.concatenate(times)
    order = np.lexsort((all_s, keys))
    keys, all_s = keys[order], all_s[order]
    new = np.append(True, (keys[1:] != keys[:-1]) | (all_s[1:] != all_s[:-1]))
    keys, all_s = keys[new], all_s[new]
    values = [_values_at(line, at_s, keys, all_s) for line, at_s in zip(series, times, strict=True)]
    return keys, all_s, values


def _align_steps(series: Sequence[StepSeries], steps: int) -> tuple[IntArray, None, list[FloatArray]]:
    """Lines of steps: every step where they have many points, else those that one of them has."""
    if sum(len(line.keys) for line in series) > steps // 2:
        keys = 2 * np.arange(steps, dtype=np.int64) + 1
        return keys, None, [_at_every_step(line, steps) for line in series]
    keys = np.unique(np.concatenate([line.keys for line in series]))
    return (
        keys,
        None,
        [_values_of_entries(line, line.keys.searchsorted(keys, "right") - 1) for line in series],
    )


def _at_every_step(series: StepSeries, steps: int) -> FloatArray:
    """The value at every step."""
    at = np.append(series.keys >> 1, steps)
    before = np.full(int(at[0]), np.nan)
    return np.concatenate((before, np.repeat(series.values, np.diff(at))))


def _values_of_entries(series: StepSeries, entries: IntArray) -> FloatArray:
    """The values of these entries; -1 stands before the first."""
    return np.append(series.values, np.nan)[entries]


def _values_at(series: StepSeries, at_s: FloatArray, keys: IntArray, times_s: FloatArray) -> FloatArray:
    """A line's value at each of these points."""
    entries = series.keys.searchsorted(keys, "right") - 1
    between = (keys & 1) == 0
    entries[between] = at_s.searchsorted(times_s[between], "right") - 1
    return _values_of_entries(series, entries)


def without_repeats(series: StepSeries) -> StepSeries:
    """Without the points at which nothing changes."""
    value = series.values
    other = (value[1:] != value[:-1]) & ~(np.isnan(value[1:]) & np.isnan(value[:-1]))
    kept = np.append(True, other) if len(value) else np.zeros(0, bool)
    return StepSeries(series.keys[kept], value[kept], None if series.time_s is None else series.time_s[kept])
