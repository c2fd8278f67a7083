"""Which signals are drawn in one panel, so that what belongs together is seen together.

Takes: traces.  Gives: panels.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from rules.signals.model import Value
from rules.signals.number_format import format_value

MAX_PANELS = 8
MAX_TRACES = 4
"""More lines than these in one panel cannot be told apart."""
MAX_MAGNITUDE_RATIO = 30.0
"""Quantities of one unit go into one panel, unless one is so many times larger than another."""
UNRELATED_UNITS = ("%", "deg")
"""Many things that have nothing to do with each other are given in these: only kin share a panel."""
MIN_SPANS = {"deg": 2.0, "%": 5.0, "ft/min": 200.0}
"""At least so much of a quantity is shown, in its unit."""
RELATED_NAMES = {"elevator": "column", "aileron": "wheel", "rudder": "pedals"}
"""A surface stands with the control that moves it."""
_SIDE_WORDS = re.compile(r"\b(left|right|nose|centre|captain|first_officer|standby|forward|aft)\b|\d+")


@dataclass(frozen=True, slots=True)
class PlotTrace:
    """One line: a value stands until the next."""

    signal: str
    label: str
    unit: str
    words: tuple[str, ...]
    times_s: tuple[float, ...]
    values: tuple[Value | None, ...]


def plot_panels(traces: Sequence[PlotTrace]) -> list[list[PlotTrace]]:
    """Traces that go into one panel: words alone, numbers with others of their unit and kind; as many as there is room for."""
    return _group_alike(traces)[:MAX_PANELS]


def split_constant(
    traces: Sequence[PlotTrace], limited_signals: Sequence[str] = ()
) -> tuple[tuple[PlotTrace, ...], tuple[PlotTrace, ...]]:
    """What moved, to be drawn, and what stayed as it was, to be said.

    Args:
        traces: all of them.
        limited_signals: signals that have a limit; they are drawn though they did not move.
    """
    still = {
        trace.signal
        for panel in _group_alike(traces)
        for trace in panel
        if all(_is_constant(one) and one.signal not in limited_signals for one in panel)
    }
    moved = tuple(trace for trace in traces if trace.signal not in still)
    return (
        (moved, tuple(trace for trace in traces if trace.signal in still)) if moved else (tuple(traces), ())
    )


def constant_text(trace: PlotTrace) -> str:
    """A trace that did not move, in words."""
    value = trace.values[0]
    words = (
        format_value(value, trace.unit) if isinstance(value, float | int) else str(value).replace("_", " ")
    )
    return f"{trace.label} {words}"


def _group_alike(traces: Sequence[PlotTrace]) -> list[list[PlotTrace]]:
    panels: list[list[PlotTrace]] = []
    for trace in traces:
        home = next((panel for panel in panels if _share_panel(panel, trace)), None)
        if home is not None:
            home.append(trace)
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
    """What a signal is whichever side it is of: its whole name so, and its last word."""
    name = _SIDE_WORDS.sub("*", signal)
    parts = [RELATED_NAMES.get(part, part) for part in name.split(".")]
    return {".".join(parts), next((part for part in reversed(parts) if part != "*"), name)}


def min_span(panel: Sequence[PlotTrace]) -> float:
    """How much a panel shows at least, so that a tremble does not look like a swing."""
    return max(MIN_SPANS.get(panel[0].unit, 0.0), 0.05 * max(_max_magnitude(trace) for trace in panel))


def _max_magnitude(trace: PlotTrace) -> float:
    return max((abs(v) for v in trace.values if isinstance(v, float | int) and isfinite(v)), default=0.0)
