"""Which signals are drawn in one panel, so that what belongs together is seen together.

Takes: traces.  Gives: panels.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from rules.signals.model import Value
from rules.signals.numbers import say

MOST_PANELS = 8
MOST_TRACES = 4
"""More lines than these in one panel cannot be told apart."""
WIDE = 30.0
"""Quantities of one unit go into one panel, unless one is so many times larger than another."""
APART = ("%", "deg")
"""Many things that have nothing to do with each other are given in these: only kin share a panel."""
LEAST_SPAN = {"deg": 2.0, "%": 5.0, "ft/min": 200.0}
"""At least so much of a quantity is shown, in its unit."""
KIN = {"elevator": "column", "aileron": "wheel", "rudder": "pedals"}
"""A surface stands with the control that moves it."""
_SIDES = re.compile(r"\b(left|right|nose|centre|captain|first_officer|standby|forward|aft)\b|\d+")


@dataclass(frozen=True, slots=True)
class Trace:
    """One line: a value stands until the next."""

    signal: str
    label: str
    unit: str
    words: tuple[str, ...]
    times_s: tuple[float, ...]
    values: tuple[Value | None, ...]


def panels_of(traces: Sequence[Trace]) -> list[list[Trace]]:
    """Traces that go into one panel: words alone, numbers with others of their unit and kind; as many as there is room for."""
    return _together(traces)[:MOST_PANELS]


def parted(
    traces: Sequence[Trace], limited: Sequence[str] = ()
) -> tuple[tuple[Trace, ...], tuple[Trace, ...]]:
    """What moved, to be drawn, and what stayed as it was, to be said.

    Args:
        traces: all of them.
        limited: signals that have a limit; they are drawn though they did not move.
    """
    still = {
        trace.signal
        for panel in _together(traces)
        for trace in panel
        if all(_stood(one) and one.signal not in limited for one in panel)
    }
    moved = tuple(trace for trace in traces if trace.signal not in still)
    return (
        (moved, tuple(trace for trace in traces if trace.signal in still)) if moved else (tuple(traces), ())
    )


def said(trace: Trace) -> str:
    """A trace that did not move, in words."""
    value = trace.values[0]
    words = say(value, trace.unit) if isinstance(value, float | int) else str(value).replace("_", " ")
    return f"{trace.label} {words}"


def _together(traces: Sequence[Trace]) -> list[list[Trace]]:
    panels: list[list[Trace]] = []
    for trace in traces:
        home = next((panel for panel in panels if _alike(panel, trace)), None)
        if home is not None:
            home.append(trace)
        else:
            panels.append([trace])
    return panels


def _stood(trace: Trace) -> bool:
    return len(set(trace.values)) == 1 and trace.values[0] is not None


def _alike(panel: Sequence[Trace], trace: Trace) -> bool:
    first = panel[0]
    if first.words or trace.words or first.unit != trace.unit or len(panel) >= MOST_TRACES:
        return False
    if trace.unit in APART or _SIDES.sub("*", first.signal) == _SIDES.sub("*", trace.signal):
        return bool(_kinds(first.signal) & _kinds(trace.signal))
    sizes = sorted((_size(first), _size(trace)))
    return sizes[1] <= WIDE * sizes[0] or sizes[1] == 0


def _kinds(signal: str) -> set[str]:
    """What a signal is whichever side it is of: its whole name so, and its last word."""
    name = _SIDES.sub("*", signal)
    parts = [KIN.get(part, part) for part in name.split(".")]
    return {".".join(parts), next((part for part in reversed(parts) if part != "*"), name)}


def least_span(panel: Sequence[Trace]) -> float:
    """How much a panel shows at least, so that a tremble does not look like a swing."""
    return max(LEAST_SPAN.get(panel[0].unit, 0.0), 0.05 * max(_size(trace) for trace in panel))


def _size(trace: Trace) -> float:
    return max((abs(v) for v in trace.values if isinstance(v, float | int) and isfinite(v)), default=0.0)
