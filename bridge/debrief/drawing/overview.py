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

from bridge.debrief.account import Bar, Case, Stage
from bridge.debrief.drawing.bars import (
    GOOD,
    Scale,
    head,
    mark,
    ranges,
    shade,
    short,
    window_of,
    window_within,
)
from bridge.debrief.drawing.sheet import MET, OPEN, new_sheet, svg_of
from bridge.screen import clock

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW_IN = 0.165
LEAST_S = 8.0
"""A phase is at least as wide as one of so many seconds."""
TITLE_ROOM, TICK_ROOM, MARK_ROOM = 0.026, 0.105, 0.035
"""How far apart titles, times and the numbers of findings stand, as parts of the width."""


def draw_overview(
    stages: Sequence[Stage], bars: Sequence[Bar], cases: Sequence[Case], seats: Mapping[str, str]
) -> str:
    """Each flow and seat as one row: how much of it was met over time, and what was found.

    Args:
        stages: the phases; there is at least one.
        bars: every item of every flow.
        cases: the findings.
        seats: their titles.
    """
    rows = rows_of(bars, stages)
    scale = scale_of(stages)
    sheet, (axes,) = new_sheet(ROW_IN * max(len(rows), 1) + 1.4)
    shade(axes, stages, scale)
    head(axes, [((scale(s.from_s) + scale(s.to_s)) / 2, s.title) for s in stages], TITLE_ROOM)
    names = []
    for row, ((_, seat), items) in enumerate(rows.items()):
        _share(axes, -row, items, window_within(items[0], stages), scale)
        names.append(f"{items[0].flow_title}, {seats.get(seat, seat)}")
        for at, numbers in clusters(items, cases, scale):
            mark(axes, numbers, at, -row)
    axes.set_yticks([-row for row in range(len(rows))], [short(name) for name in names])
    axes.set_ylim(-len(rows) + 0.4, 0.6)
    axes.set_xlim(0.0, 1.0)
    axes.grid(visible=False)
    ticks = list(ticks_of(stages, scale))
    axes.set_xticks([at for at, _ in ticks], [text for _, text in ticks])
    says = f"{len(rows)} rows, one for each flow and seat, over {len(stages)} phases; diamonds are findings by their numbers."
    return svg_of(sheet, "overview", "Timeline of the flows", says)


def scale_of(stages: Sequence[Stage]) -> Scale:
    """Times of the session as places from 0 to 1."""
    edges = [stages[0].from_s]
    places = [0.0]
    for stage in stages:
        edges.append(max(stage.to_s, edges[-1] + 1e-6))
        places.append(places[-1] + sqrt(max(stage.to_s - stage.from_s, LEAST_S)))
    parts = [place / places[-1] for place in places]
    return lambda time_s: float(np.interp(time_s, edges, parts))


def ticks_of(stages: Sequence[Stage], scale: Scale) -> Iterator[tuple[float, str]]:
    """The times at which phases began, as far as there is room for them."""
    last = float("-inf")
    for stage in stages:
        at = scale(stage.from_s)
        if at - last >= TICK_ROOM:
            last = at
            yield at, clock(stage.from_s)


def rows_of(bars: Sequence[Bar], stages: Sequence[Stage]) -> dict[tuple[str, str], list[Bar]]:
    """The items by flow and seat, of flows whose phase was flown; in the order in which they begin."""
    rows: dict[tuple[str, str], list[Bar]] = {}
    for bar in bars:
        if window_of(bar, stages) is not None:
            rows.setdefault((bar.flow, bar.seat), []).append(bar)
    return dict(sorted(rows.items(), key=lambda row: window_within(row[1][0], stages)[0]))


def clusters(items: Sequence[Bar], cases: Sequence[Case], scale: Scale) -> Iterator[tuple[float, str]]:
    """Where the findings of these items stand; those close together have their numbers behind the last of them."""
    mine = {number for item in items for number in item.findings}
    found: dict[float, list[int]] = {}
    for case in cases:
        if case.finding.number in mine:
            found.setdefault(scale(case.at_s), []).append(case.finding.number)
    waiting: list[int] = []
    for at, following in pairwise((*sorted(found), float("inf"))):
        waiting += found[at]
        apart = following - at >= MARK_ROOM
        yield at, ranges(waiting) if apart else ""
        if apart:
            waiting = []


def _share(axes: Axes, row: float, items: Sequence[Bar], window: tuple[float, float], scale: Scale) -> None:
    """How much of a flow was met, as the thickness of a band, within the time in which it was flown."""
    changes = (s.from_s for item in items for s in item.stretches if window[0] < s.from_s < window[1])
    times = sorted({*window, *changes})
    places = [scale(time_s) for time_s in times]
    half = [0.42 * share_met(items, time_s) for time_s in times]
    axes.hlines(row, places[0], places[-1], color=OPEN, linewidth=0.8, zorder=1)
    low, high = [row - h for h in half], [row + h for h in half]
    axes.fill_between(places, low, high, step="post", color=MET, linewidth=0)


def share_met(items: Sequence[Bar], time_s: float) -> float:
    """Which part of the items was met at a time."""
    lives = (next((s.life for s in item.stretches if s.from_s <= time_s < s.to_s), None) for item in items)
    return sum(life in GOOD for life in lives) / len(items)
