"""Draws signals as lines, one panel for each kind of quantity; words are steps between named levels.

Takes: traces, limits, marks.  Gives: SVG.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, nan
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from bridge.debrief.drawing.gap_marks import gaps_description, shade_gaps
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
from bridge.debrief.model import DataGap
from rules.words import words_of_id

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PANEL_HEIGHT_IN = 0.86
WORDS_HEIGHT_IN = 0.46
_AREA_HEIGHT_PT = PANEL_HEIGHT_IN * 72 * 0.62
"""The approximate height of a panel's plot area without its title."""
_AREA_WIDTH_PT = WIDTH_IN * 72 * 0.75
_LETTER_PT, _LINE_PT = 3.7, 7.5
_LEGEND_COLUMNS = 4
_LIMIT_LABEL_WIDTH = 20


@dataclass(frozen=True, slots=True)
class PlotLimit:
    """A limit to draw as a level beside the traces of a signal."""

    signal: str
    value: float
    label: str


@dataclass(frozen=True, slots=True)
class PlotMark:
    """A time to mark: a finding, or any other event."""

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
    gaps: Sequence[DataGap] = (),
) -> str:
    """Draw traces with their limits and marks.

    Args:
        name: the id of the plot in the page.
        title: the title of the plot.
        description: a sentence for readers who cannot see the plot.
        traces: the lines; those for which there is no panel are left out, and the caller names them.
        limits: the limits.
        marks: the times to mark.
        span: the start and the end of the time axis, in seconds.
        gaps: the times for which data were missing; the traces have no value in them.
    """
    panels = plot_panels(traces)
    heights = [WORDS_HEIGHT_IN if panel[0].words else PANEL_HEIGHT_IN for panel in panels] or [
        PANEL_HEIGHT_IN
    ]
    figure, axes = new_figure(sum(heights) + 0.45, len(heights), heights)
    for panel, panel_axes in zip(panels, axes, strict=False):
        if panel[0].words:
            _draw_words(panel_axes, panel[0], span[1])
        else:
            _draw_numbers(panel_axes, panel, span[1])
            _draw_limits(panel_axes, panel, limits)
    for panel_axes in axes:
        shade_gaps(panel_axes, gaps)
        for mark in marks:
            panel_axes.axvline(
                mark.at_s,
                color=WARNING if mark.is_finding else DIM,
                linewidth=1.1 if mark.is_finding else 0.6,
                linestyle="-" if mark.is_finding else (0, (2, 2)),
            )
    set_time_ticks(axes[-1], *span)
    rows = ceil(len(panels[0]) / _LEGEND_COLUMNS) if panels else 1
    _draw_mark_labels(axes[0], marks, span, 6.0 + 9.0 * rows)
    return svg_of(figure, name, title, f"{description}{gaps_description(gaps)}")


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
    """Draw the limits of a panel as lines with labels on the right.

    Limits at one level share a line and a label.  From the lowest up, a label that would overlap the one below moves up:

        701 ---------  upper
        700 ---------  lower
    """
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
    """Widen the value axis to at least this span; return its two ends."""
    low, high = axes.get_ylim()
    short = max(least - (high - low), 0.0) / 2
    axes.set_ylim(low - short, high + short)
    return low - short, high + short


def _draw_words(axes: Axes, trace: PlotTrace, end_s: float) -> None:
    """Draw a switch or selector as steps; only the words that occur are named."""
    used = [word for word in trace.words if word in trace.values] or [str(v) for v in trace.values if v][:1]
    levels = {word: level for level, word in enumerate(used)}
    values = [levels.get(str(value), nan) for value in trace.values]
    times = list(trace.times_s)
    if times and times[-1] < end_s:
        times, values = [*times, end_s], [*values, values[-1]]
    axes.plot(times, values, color=TRACE_COLOURS[0], drawstyle="steps-post")
    axes.set_ylim(-0.5, max(len(used) - 0.5, 0.5))
    axes.set_yticks(range(len(used)), [words_of_id(word) for word in used])
    axes.set_title(trace.label, **PANEL_TITLE_STYLE)


def _draw_mark_labels(
    axes: Axes, marks: Sequence[PlotMark], span: tuple[float, float], above_pt: float
) -> None:
    """Write the labels of marks above the panel, each on the lowest line that has room.

    8 opened
    light-off          idle
    """
    ends_pt: list[float] = []
    for mark in sorted(marks, key=lambda one: one.at_s):
        middle_pt = (mark.at_s - span[0]) / max(span[1] - span[0], 1e-3) * _AREA_WIDTH_PT
        half_pt = len(mark.label) * _LETTER_PT / 2 + 2
        free = (line for line, end_pt in enumerate(ends_pt) if end_pt <= middle_pt - half_pt)
        line = next(free, len(ends_pt))
        ends_pt[line : line + 1] = [middle_pt + half_pt]
        axes.annotate(
            mark.label,
            (mark.at_s, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, above_pt + 8 * line),
            textcoords="offset points",
            ha="center",
            fontsize=6.5,
            color=WARNING if mark.is_finding else DIM,
        )
