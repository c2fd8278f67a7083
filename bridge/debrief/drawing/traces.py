"""Signals as traces, one panel for each unit, words as steps between their names.

Takes: traces, limits, moments.  Gives: SVG.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, nan
from typing import TYPE_CHECKING

from bridge.debrief.drawing.clocks import set_times
from bridge.debrief.drawing.sheet import CAUTION, DASHES, DIM, TEXT, TITLE, TRACES, WARNING, new_sheet, svg_of
from rules.signals.model import Value

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PANEL_IN = 0.95
WORDS_IN = 0.5
MOST_PANELS = 7
WIDE = 30.0
"""Quantities of one unit go into one panel, unless one is so many times larger than another."""


@dataclass(frozen=True, slots=True)
class Trace:
    """One line: a value stands until the next."""

    signal: str
    label: str
    unit: str
    words: tuple[str, ...]
    times_s: tuple[float, ...]
    values: tuple[Value | None, ...]


@dataclass(frozen=True, slots=True)
class Limit:
    """A level to draw beside the traces of a signal."""

    signal: str
    value: float
    label: str


@dataclass(frozen=True, slots=True)
class Moment:
    """A time to mark; `grave` for what was found, else an event."""

    at_s: float
    label: str
    grave: bool = False


def draw_traces(
    name: str,
    title: str,
    says: str,
    traces: Sequence[Trace],
    limits: Sequence[Limit],
    moments: Sequence[Moment],
    span: tuple[float, float],
) -> str:
    """Draw them.

    Args:
        name: names the plot in the page.
        title: what it shows.
        says: the same in a sentence.
        traces: the lines; those that fit in no panel are left out, which the caller says.
        limits: levels.
        moments: times to mark.
        span: from when to when, in seconds.
    """
    panels = panels_of(traces)
    heights = [WORDS_IN if panel[0].words else PANEL_IN for panel in panels] or [PANEL_IN]
    sheet, axes = new_sheet(sum(heights) + 0.45, len(heights), heights)
    for panel, on in zip(panels, axes, strict=False):
        (_draw_words if panel[0].words else _draw_numbers)(on, panel, limits, span[1])
    for on in axes:
        for moment in moments:
            on.axvline(
                moment.at_s,
                color=WARNING if moment.grave else DIM,
                linewidth=1.1 if moment.grave else 0.6,
                linestyle="-" if moment.grave else (0, (2, 2)),
            )
    set_times(axes[-1], *span)
    _label(axes[0], moments, span)
    return svg_of(sheet, name, title, says)


def panels_of(traces: Sequence[Trace]) -> list[list[Trace]]:
    """Traces that go into one panel: words alone, numbers with others of their unit and size."""
    panels: list[list[Trace]] = []
    for trace in traces:
        home = next((p for p in panels if not trace.words and _alike(p, trace)), None)
        if home is not None:
            home.append(trace)
        else:
            panels.append([trace])
    return panels[:MOST_PANELS]


def _alike(panel: Sequence[Trace], trace: Trace) -> bool:
    first = panel[0]
    if first.words or first.unit != trace.unit or len(panel) >= len(TRACES):
        return False
    sizes = sorted((_size(first), _size(trace)))
    return sizes[1] <= WIDE * sizes[0] or sizes[1] == 0 or trace.unit in ("%", "deg")


def _size(trace: Trace) -> float:
    return max((abs(v) for v in trace.values if isinstance(v, float | int) and isfinite(v)), default=0.0)


def _draw_numbers(axes: Axes, panel: Sequence[Trace], limits: Sequence[Limit], end_s: float) -> None:
    for number, trace in enumerate(panel):
        values = [v if isinstance(v, float | int) else nan for v in trace.values]
        times = list(trace.times_s)
        if times and times[-1] < end_s:
            times, values = [*times, end_s], [*values, values[-1]]
        axes.plot(
            times,
            values,
            color=TRACES[number],
            linestyle=DASHES[number],
            drawstyle="steps-post",
            label=trace.label,
        )
    shown = {trace.signal for trace in panel}
    for limit in dict.fromkeys(limits):
        if limit.signal in shown:
            axes.axhline(limit.value, color=CAUTION, linewidth=0.9, linestyle=(0, (4, 2)))
            axes.annotate(
                limit.label,
                (1.0, limit.value),
                xycoords=("axes fraction", "data"),
                xytext=(-2, 2),
                textcoords="offset points",
                ha="right",
                fontsize=6.5,
                color=CAUTION,
            )
    axes.margins(y=0.15)
    axes.set_ylabel(panel[0].unit if panel[0].unit != "1" else "", fontsize=7)
    if len(panel) == 1:
        axes.set_title(panel[0].label, **TITLE)
    else:
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(0, 1.0),
            ncols=4,
            borderaxespad=0.1,
            handlelength=2.2,
            columnspacing=1.2,
            fontsize=7,
            labelcolor=TEXT,
            frameon=False,
        )


def _draw_words(axes: Axes, panel: Sequence[Trace], _: Sequence[Limit], end_s: float) -> None:
    """One switch or choice as steps; only the words that it had are named."""
    trace = panel[0]
    had = [word for word in trace.words if word in trace.values] or [str(v) for v in trace.values if v][:1]
    places = {word: place for place, word in enumerate(had)}
    values = [places.get(str(value), nan) for value in trace.values]
    times = list(trace.times_s)
    if times and times[-1] < end_s:
        times, values = [*times, end_s], [*values, values[-1]]
    axes.plot(times, values, color=TRACES[0], drawstyle="steps-post")
    axes.set_ylim(-0.5, max(len(had) - 0.5, 0.5))
    axes.set_yticks(range(len(had)), [word.replace("_", " ") for word in had])
    axes.set_title(trace.label, **TITLE)


def _label(axes: Axes, moments: Sequence[Moment], span: tuple[float, float]) -> None:
    """Name the moments at the top; those too close to the one before go a line higher."""
    last_s, line = float("-inf"), 0
    for moment in sorted(moments, key=lambda one: one.at_s):
        near = moment.at_s - last_s < 0.045 * (span[1] - span[0])
        line = (line + 1) % 3 if near else 0
        last_s = moment.at_s
        axes.annotate(
            moment.label,
            (moment.at_s, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 14 + 8 * line),
            textcoords="offset points",
            ha="center",
            fontsize=6.5,
            color=WARNING if moment.grave else DIM,
        )
