"""The timeline: each flow and seat as a row over the phases of the flight.

A phase is as wide as the square root of how long it took: else an hour of cruise would leave no room for the minutes in
which the flows are done.

Takes: bars and phases.  Gives: SVG.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from bridge.debrief.drawing.flow_marks import (
    SATISFIED,
    TimeScale,
    draw_finding_mark,
    draw_slanted_titles,
    number_ranges,
    shade_phases,
    shortened,
    window_in_session,
    window_of,
)
from bridge.debrief.drawing.svg_figure import MET, OPEN, new_figure, svg_of
from bridge.debrief.model import FindingDetail, FlownPhase, ItemHistory
from bridge.terminal.live_view import format_sim_time

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW_HEIGHT_IN = 0.165
MIN_PHASE_S = 8.0
"""A phase is at least as wide as one of so many seconds."""
TITLE_SPACING, TICK_SPACING, MARK_SPACING = 0.026, 0.105, 0.035
"""How far apart titles, times and the numbers of findings stand, as parts of the width."""


def draw_overview(
    phases: Sequence[FlownPhase],
    histories: Sequence[ItemHistory],
    findings: Sequence[FindingDetail],
    seats: Mapping[str, str],
) -> str:
    """Each flow and seat as one row: how much of it was met over time, and what was found.

    Args:
        phases: the phases; there is at least one.
        histories: every item of every flow.
        findings: the findings.
        seats: their titles.
    """
    rows = rows_of(histories, phases)
    scale = time_scale(phases)
    sheet, (axes,) = new_figure(ROW_HEIGHT_IN * max(len(rows), 1) + 1.4)
    shade_phases(axes, phases, scale)
    draw_slanted_titles(
        axes, [((scale(s.from_s) + scale(s.to_s)) / 2, s.title) for s in phases], TITLE_SPACING
    )
    names = []
    for row, ((_, seat), items) in enumerate(rows.items()):
        _draw_met_band(axes, -row, items, window_in_session(items[0], phases), scale)
        names.append(f"{items[0].flow_title}, {seats.get(seat, seat)}")
        for at, numbers in finding_clusters(items, findings, scale):
            draw_finding_mark(axes, numbers, at, -row)
    axes.set_yticks([-row for row in range(len(rows))], [shortened(name) for name in names])
    axes.set_ylim(-len(rows) + 0.4, 0.6)
    axes.set_xlim(0.0, 1.0)
    axes.grid(visible=False)
    ticks = list(ticks_of(phases, scale))
    axes.set_xticks([at for at, _ in ticks], [text for _, text in ticks])
    says = f"{len(rows)} rows, one for each flow and seat, over {len(phases)} phases; diamonds are findings by their numbers."
    return svg_of(sheet, "overview", "Timeline of the flows", says)


def time_scale(phases: Sequence[FlownPhase]) -> TimeScale:
    """Times of the session as places from 0 to 1."""
    edges = [phases[0].from_s]
    places = [0.0]
    for stage in phases:
        edges.append(max(stage.to_s, edges[-1] + 1e-6))
        places.append(places[-1] + sqrt(max(stage.to_s - stage.from_s, MIN_PHASE_S)))
    parts = [place / places[-1] for place in places]
    return lambda time_s: float(np.interp(time_s, edges, parts))


def ticks_of(phases: Sequence[FlownPhase], scale: TimeScale) -> Iterator[tuple[float, str]]:
    """The times at which phases began, as far as there is room for them."""
    last = float("-inf")
    for stage in phases:
        at = scale(stage.from_s)
        if at - last >= TICK_SPACING:
            last = at
            yield at, format_sim_time(stage.from_s)


def rows_of(
    histories: Sequence[ItemHistory], phases: Sequence[FlownPhase]
) -> dict[tuple[str, str], list[ItemHistory]]:
    """The items by flow and seat, of flows whose phase was flown; in the order in which they begin."""
    rows: dict[tuple[str, str], list[ItemHistory]] = {}
    for bar in histories:
        if window_of(bar, phases) is not None:
            rows.setdefault((bar.flow, bar.seat), []).append(bar)
    return dict(sorted(rows.items(), key=lambda row: window_in_session(row[1][0], phases)[0]))


def finding_clusters(
    items: Sequence[ItemHistory], findings: Sequence[FindingDetail], scale: TimeScale
) -> Iterator[tuple[float, str]]:
    """Where the findings of these items stand; those close together have their numbers behind the last of them."""
    mine = {number for item in items for number in item.findings}
    found: dict[float, list[int]] = {}
    for case in findings:
        if case.finding.number in mine:
            found.setdefault(scale(case.at_s), []).append(case.finding.number)
    waiting: list[int] = []
    for at, following in pairwise((*sorted(found), float("inf"))):
        waiting += found[at]
        apart = following - at >= MARK_SPACING
        yield at, number_ranges(waiting) if apart else ""
        if apart:
            waiting = []


def _draw_met_band(
    axes: Axes, row: float, items: Sequence[ItemHistory], window: tuple[float, float], scale: TimeScale
) -> None:
    """How much of a flow was met, as the thickness of a band, within the time in which it was flown."""
    changes = (s.from_s for item in items for s in item.intervals if window[0] < s.from_s < window[1])
    times = sorted({*window, *changes})
    places = [scale(time_s) for time_s in times]
    half = [0.42 * share_met(items, time_s) for time_s in times]
    axes.hlines(row, places[0], places[-1], color=OPEN, linewidth=0.8, zorder=1)
    low, high = [row - h for h in half], [row + h for h in half]
    axes.fill_between(places, low, high, step="post", color=MET, linewidth=0)


def share_met(items: Sequence[ItemHistory], time_s: float) -> float:
    """Which part of the items was met at a time."""
    lives = (next((s.life for s in item.intervals if s.from_s <= time_s < s.to_s), None) for item in items)
    return sum(life in SATISFIED for life in lives) / len(items)
