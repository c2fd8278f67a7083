"""Groups the signals of a plot into panels, so that related signals share a panel.

Takes: traces.  Gives: panels.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from rules.signals.model import Value
from rules.signals.number_format import format_value
from rules.words import words_of_id

MAX_PANELS = 8
MAX_TRACES = 4
"""More lines in one panel cannot be distinguished."""
MAX_MAGNITUDE_RATIO = 30.0
"""Quantities of one unit share a panel unless one is more than this many times larger than another."""
UNRELATED_UNITS = ("%", "deg")
"""Unrelated quantities often have these units, so only related signals share a panel."""
MIN_SPANS = {"deg": 2.0, "%": 5.0, "ft/min": 200.0}
"""The least span of a panel's value axis, by unit."""
RELATED_NAMES = {"elevator": "column", "aileron": "wheel", "rudder": "pedals"}
"""A control surface shares a panel with the control that moves it."""
_SIDE_WORDS = re.compile(r"\b(left|right|nose|centre|captain|first_officer|standby|forward|aft)\b|\d+")


@dataclass(frozen=True, slots=True)
class PlotTrace:
    """One line of a plot: a value is valid until the next one."""

    signal: str
    label: str
    unit: str
    words: tuple[str, ...]
    times_s: tuple[float, ...]
    values: tuple[Value | None, ...]


def plot_panels(traces: Sequence[PlotTrace]) -> list[list[PlotTrace]]:
    """Group traces into at most `MAX_PANELS` panels: a trace of words alone, numbers with others of their unit and kind."""
    return _group_alike(traces)[:MAX_PANELS]


def split_constant(
    traces: Sequence[PlotTrace], limited_signals: Sequence[str] = ()
) -> tuple[tuple[PlotTrace, ...], tuple[PlotTrace, ...]]:
    """Split traces into those to draw and those that did not change, which are written as text.

    Args:
        traces: all traces of a plot.
        limited_signals: signals that have a limit; they are drawn though they did not change.

    Returns:
        The traces to draw and the constant ones; if every trace is constant, all of them are drawn.
    """
    constant = {
        trace.signal
        for panel in _group_alike(traces)
        for trace in panel
        if all(_is_constant(one) and one.signal not in limited_signals for one in panel)
    }
    changing = tuple(trace for trace in traces if trace.signal not in constant)
    if not changing:
        return tuple(traces), ()
    return changing, tuple(trace for trace in traces if trace.signal in constant)


def constant_text(trace: PlotTrace) -> str:
    """Write the label and value of a constant trace."""
    value = trace.values[0]
    words = format_value(value, trace.unit) if isinstance(value, float | int) else words_of_id(str(value))
    return f"{trace.label} {words}"


def _group_alike(traces: Sequence[PlotTrace]) -> list[list[PlotTrace]]:
    panels: list[list[PlotTrace]] = []
    for trace in traces:
        match = next((panel for panel in panels if _share_panel(panel, trace)), None)
        if match is not None:
            match.append(trace)
        else:
            panels.append([trace])
    return panels


def _is_constant(trace: PlotTrace) -> bool:
    return len(set(trace.values)) == 1 and trace.values[0] is not None


def _share_panel(panel: Sequence[PlotTrace], trace: PlotTrace) -> bool:
    first = panel[0]
    if first.words or trace.words or first.unit != trace.unit or len(panel) >= MAX_TRACES:
        return False
    if trace.unit in UNRELATED_UNITS or _SIDE_WORDS.sub("*", first.signal) == _SIDE_WORDS.sub(
        "*", trace.signal
    ):
        return bool(_kinds(first.signal) & _kinds(trace.signal))
    sizes = sorted((_max_magnitude(first), _max_magnitude(trace)))
    return sizes[1] <= MAX_MAGNITUDE_RATIO * sizes[0] or sizes[1] == 0


def _kinds(signal: str) -> set[str]:
    """The kinds of a signal: its name without its side, and the last part of that.

    `engine.2.n1` gives `engine.*.n1` and `n1`; `controls.elevator` gives `controls.column` and `column`.
    """
    name = _SIDE_WORDS.sub("*", signal)
    parts = [RELATED_NAMES.get(part, part) for part in name.split(".")]
    return {".".join(parts), next((part for part in reversed(parts) if part != "*"), name)}


def min_span(panel: Sequence[PlotTrace]) -> float:
    """The least span of a panel's value axis, so that small noise does not look like a large change."""
    return max(MIN_SPANS.get(panel[0].unit, 0.0), 0.05 * max(_max_magnitude(trace) for trace in panel))


def _max_magnitude(trace: PlotTrace) -> float:
    return max((abs(v) for v in trace.values if isinstance(v, float | int) and isfinite(v)), default=0.0)
