"""Signals as traces, one panel for each kind of quantity, words as steps between their names.

Takes: traces, limits, moments.  Gives: SVG.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, nan
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from bridge.debrief.drawing.panel_layout import PlotTrace, min_span, plot_panels
from bridge.debrief.drawing.svg_figure import (
    CAUTION,
    DIM,
    PANEL_TITLE_STYLE,
    TEXT,
    TRACE_COLOURS,
    TRACE_DASHES,
    WARNING,
    WIDTH_IN,
    new_figure,
    svg_of,
)
from bridge.debrief.drawing.time_ticks import set_time_ticks

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PANEL_HEIGHT_IN = 0.86
WORDS_HEIGHT_IN = 0.46
_AREA_HEIGHT_PT = PANEL_HEIGHT_IN * 72 * 0.62
"""About how high the field of a panel is without its title."""
_AREA_WIDTH_PT = WIDTH_IN * 72 * 0.75
_LETTER_PT, _LINE_PT = 3.7, 7.5
_LEGEND_COLUMNS = 4
_LIMIT_LABEL_WIDTH = 20


@dataclass(frozen=True, slots=True)
class PlotLimit:
    """A level to draw beside the traces of a signal."""

    signal: str
    value: float
    label: str


@dataclass(frozen=True, slots=True)
class PlotMark:
    """A time to mark; `grave` for what was found, else an event."""

    at_s: float
    label: str
    is_finding: bool = False


def draw_traces(
    name: str,
    title: str,
    description: str,
    traces: Sequence[PlotTrace],
    limits: Sequence[PlotLimit],
    marks: Sequence[PlotMark],
    span: tuple[float, float],
) -> str:
    """Draw them.

    Args:
        name: names the plot in the page.
        title: what it shows.
        description: the same in a sentence.
        traces: the lines; those that fit in no panel are left out, which the caller says.
        limits: levels.
        marks: times to mark.
        span: from when to when, in seconds.
    """
    panels = plot_panels(traces)
    heights = [WORDS_HEIGHT_IN if panel[0].words else PANEL_HEIGHT_IN for panel in panels] or [
        PANEL_HEIGHT_IN
    ]
    sheet, axes = new_figure(sum(heights) + 0.45, len(heights), heights)
    for panel, on in zip(panels, axes, strict=False):
        if panel[0].words:
            _draw_words(on, panel[0], span[1])
        else:
            _draw_numbers(on, panel, span[1])
            _draw_limits(on, panel, limits)
    for on in axes:
        for moment in marks:
            on.axvline(
                moment.at_s,
                color=WARNING if moment.is_finding else DIM,
                linewidth=1.1 if moment.is_finding else 0.6,
                linestyle="-" if moment.is_finding else (0, (2, 2)),
            )
    set_time_ticks(axes[-1], *span)
    rows = ceil(len(panels[0]) / _LEGEND_COLUMNS) if panels else 1
    _draw_mark_labels(axes[0], marks, span, 6.0 + 9.0 * rows)
    return svg_of(sheet, name, title, description)


def _draw_numbers(axes: Axes, panel: Sequence[PlotTrace], end_s: float) -> None:
    for number, trace in enumerate(panel):
        values = [v if isinstance(v, float | int) else nan for v in trace.values]
        times = list(trace.times_s)
        if times and times[-1] < end_s:
            times, values = [*times, end_s], [*values, values[-1]]
        style: Any = {
            "color": TRACE_COLOURS[number],
            "linestyle": TRACE_DASHES[number],
            "drawstyle": "steps-post",
        }
        axes.plot(times, values, label=trace.label, **style)
    axes.margins(y=0.15)
    axes.set_ylabel(panel[0].unit if panel[0].unit != "1" else "", fontsize=7)
    if len(panel) == 1:
        axes.set_title(panel[0].label, **PANEL_TITLE_STYLE)
    else:
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(0, 1.0),
            ncols=_LEGEND_COLUMNS,
            borderaxespad=0.1,
            handlelength=2.2,
            columnspacing=1.2,
            fontsize=7,
            labelcolor=TEXT,
            frameon=False,
        )


def _draw_limits(axes: Axes, panel: Sequence[PlotTrace], limits: Sequence[PlotLimit]) -> None:
    """The limits of a panel as lines, each named once, at the right of the field and clear of the next one's name."""
    shown = {trace.signal for trace in panel}
    levels: dict[float, dict[str, None]] = {}
    for limit in limits:
        if limit.signal in shown:
            levels.setdefault(limit.value, {})[limit.label] = None
    for value in levels:
        axes.axhline(value, color=CAUTION, linewidth=0.9, linestyle=(0, (4, 2)))
    low, high = _widen(axes, min_span(panel))
    top_pt = float("-inf")
    for value in sorted(levels):
        lines = wrap(", ".join(levels[value]), _LIMIT_LABEL_WIDTH, break_on_hyphens=False)
        half_pt = len(lines) * _LINE_PT / 2
        own_pt = (value - low) / (high - low) * _AREA_HEIGHT_PT
        at_pt = max(own_pt, top_pt + half_pt)
        top_pt = at_pt + half_pt
        axes.annotate(
            "\n".join(lines), (1.0, value), xycoords=("axes fraction", "data"), xytext=(4, at_pt - own_pt),
            textcoords="offset points", ha="left", va="center", fontsize=6.5, linespacing=1.05, color=CAUTION,
        )  # fmt: skip


def _widen(axes: Axes, least: float) -> tuple[float, float]:
    """Show at least so much on the axis of the values; gives its two ends."""
    low, high = axes.get_ylim()
    short = max(least - (high - low), 0.0) / 2
    axes.set_ylim(low - short, high + short)
    return low - short, high + short


def _draw_words(axes: Axes, trace: PlotTrace, end_s: float) -> None:
    """One switch or choice as steps; only the words that it had are named."""
    had = [word for word in trace.words if word in trace.values] or [str(v) for v in trace.values if v][:1]
    places = {word: place for place, word in enumerate(had)}
    values = [places.get(str(value), nan) for value in trace.values]
    times = list(trace.times_s)
    if times and times[-1] < end_s:
        times, values = [*times, end_s], [*values, values[-1]]
    axes.plot(times, values, color=TRACE_COLOURS[0], drawstyle="steps-post")
    axes.set_ylim(-0.5, max(len(had) - 0.5, 0.5))
    axes.set_yticks(range(len(had)), [word.replace("_", " ") for word in had])
    axes.set_title(trace.label, **PANEL_TITLE_STYLE)


def _draw_mark_labels(
    axes: Axes, marks: Sequence[PlotMark], span: tuple[float, float], above_pt: float
) -> None:
    """Name the moments above the panel, each on the lowest line on which there is room for it."""
    ends_pt: list[float] = []
    for moment in sorted(marks, key=lambda one: one.at_s):
        middle_pt = (moment.at_s - span[0]) / max(span[1] - span[0], 1e-3) * _AREA_WIDTH_PT
        half_pt = len(moment.label) * _LETTER_PT / 2 + 2
        free = (line for line, end_pt in enumerate(ends_pt) if end_pt <= middle_pt - half_pt)
        line = next(free, len(ends_pt))
        ends_pt[line : line + 1] = [middle_pt + half_pt]
        axes.annotate(
            moment.label,
            (moment.at_s, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, above_pt + 8 * line),
            textcoords="offset points",
            ha="center",
            fontsize=6.5,
            color=WARNING if moment.is_finding else DIM,
        )
