"""Averages over a whole recording, at the times of `rules.language.averages`.

Takes: a step series, a span.  Gives: a step series.
"""

from __future__ import annotations

import numpy as np

from rules.language.averages import POINTS_PER_WINDOW, average_of
from rules.language.batch.step_series import StepSeries, without_repeats
from rules.language.batch.windows import RunArrays, gap_ends, points_of, runs_of
from rules.signals.columns import FloatArray


def average(series: StepSeries, span_s: float, sim_s: FloatArray) -> StepSeries:
    """Compute the average over the last `span_s`, as it was at the latest time of computation."""
    time_s = series.times_s(sim_s)
    runs = runs_of(time_s, series.values)
    points = points_of(series, time_s, _times_s(runs, span_s, sim_s), sim_s)
    computed_s = _latest_points_s(points.time_s, span_s)
    unknown = np.isnan(points.present) | (gap_ends(runs, points, -np.inf) > computed_s - span_s)
    value = np.full(len(points.time_s), np.nan)
    value[~unknown] = _averages(runs, computed_s[~unknown], points.present[~unknown], span_s)
    return without_repeats(StepSeries(points.key, value, points.time_s))


def _latest_points_s(time_s: FloatArray, span_s: float) -> FloatArray:
    """Give the latest time of computation for each time, with the operations of `averages.latest_point_s`."""
    step_s = span_s / POINTS_PER_WINDOW
    number = np.floor(time_s / step_s)
    later = (number + 1) * step_s <= time_s
    earlier = ~later & (number * step_s > time_s)
    found: FloatArray = (number + later - earlier) * step_s
    return found


def _times_s(runs: RunArrays, span_s: float, sim_s: FloatArray) -> FloatArray:
    """Give the times of computation at which the average can change: those up to a window after the end of a run."""
    step_s = span_s / POINTS_PER_WINDOW
    first, last = np.floor(sim_s[0] / step_s), np.ceil(sim_s[-1] / step_s)
    times_s: FloatArray = np.arange(first, last + 1) * step_s
    times_s = times_s[times_s > sim_s[0]]
    ends_s = runs.end_s[:-1]
    recent_s = np.append(-np.inf, ends_s)[ends_s.searchsorted(times_s, "right")]
    moving: FloatArray = times_s[times_s - recent_s <= span_s + 2 * step_s]
    return moving


def _averages(runs: RunArrays, computed_s: FloatArray, present: FloatArray, span_s: float) -> list[float]:
    """Average the runs in the window before each time; the present value where a single run fills the window."""
    first = runs.end_s.searchsorted(computed_s - span_s, "right")
    last = runs.start_s.searchsorted(computed_s, "left")
    starts, ends, values = runs.start_s.tolist(), runs.end_s.tolist(), runs.values.tolist()
    known: dict[float, float] = {}
    found: list[float] = []
    for begin, end, at_s, now in zip(
        first.tolist(), last.tolist(), computed_s.tolist(), present.tolist(), strict=True
    ):
        if end - begin <= 1 and values[begin] == now:
            found.append(now)
            continue
        if at_s not in known:
            known[at_s] = average_of(
                list(zip(starts[begin:end], ends[begin:end], values[begin:end], strict=True)), at_s, span_s
            )
        found.append(known[at_s])
    return found
