"""The timeline plot: each flow and seat as a row over the phases of the flight.

The width of a phase is the square root of its duration: otherwise an hour of cruise would leave no room for the minutes in
which the flows are done.

Takes: item histories and phases.  Gives: SVG.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from bridge.common.time_text import format_sim_time
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
from bridge.debrief.drawing.gap_marks import gaps_description, shade_gaps
from bridge.debrief.drawing.svg_figure import MET, OPEN, new_figure, svg_of
from bridge.debrief.gaps import spans_outside
from bridge.debrief.model import DataGap, FindingDetail, FlownPhase, ItemHistory

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW_HEIGHT_IN = 0.165
MIN_PHASE_S = 8.0
"""A phase is at least as wide as one of this duration."""
TITLE_SPACING, TICK_SPACING, MARK_SPACING = 0.026, 0.105, 0.035
"""The least distances between titles, times and the numbers of findings, as parts of the width."""


def draw_overview(
    phases: Sequence[FlownPhase],
    histories: Sequence[ItemHistory],
    findings: Sequence[FindingDetail],
    seats: Mapping[str, str],
    gaps: Sequence[DataGap] = (),
) -> str:
    """Draw each flow and seat as one row: the share of its items that was met over time, and its findings.

    Args:
        phases: the phases; there is at least one.
        histories: every item of every flow.
        findings: the findings.
        seats: the titles of the seats.
        gaps: the times for which data were missing.
    """
    rows = rows_of(histories, phases)
    scale = time_scale(phases)
    figure, (axes,) = new_figure(ROW_HEIGHT_IN * max(len(rows), 1) + 1.4)
    shade_phases(axes, phases, scale)
    shade_gaps(axes, gaps, scale)
    draw_slanted_titles(
        axes, [((scale(s.from_s) + scale(s.to_s)) / 2, s.title) for s in phases], TITLE_SPACING
    )
    names = []
    for row, ((_, seat), items) in enumerate(rows.items()):
        for span in spans_outside(gaps, *window_in_session(items[0], phases)):
            _draw_met_band(axes, -row, items, span, scale)
        names.append(f"{items[0].flow_title}, {seats.get(seat, seat)}")
        for x, numbers in finding_clusters(items, findings, scale):
            draw_finding_mark(axes, numbers, x, -row)
    axes.set_yticks([-row for row in range(len(rows))], [shortened(name) for name in names])
    axes.set_ylim(-len(rows) + 0.4, 0.6)
    axes.set_xlim(0.0, 1.0)
    axes.grid(visible=False)
    ticks = list(ticks_of(phases, scale))
    axes.set_xticks([x for x, _ in ticks], [text for _, text in ticks])
    description = f"{len(rows)} rows, one for each flow and seat, over {len(phases)} phases; diamonds are findings by their numbers.{gaps_description(gaps)}"
    return svg_of(figure, "overview", "Timeline of the flows", description)


def time_scale(phases: Sequence[FlownPhase]) -> TimeScale:
    """Map times of the session to positions from 0 to 1.

    Phases of 100 s, 100 s and 2500 s are 10, 10 and 50 wide:

        time      0     100    200                        2700
        position  0     1/7    2/7                        1
    """
    edges = [phases[0].from_s]
    positions = [0.0]
    for phase in phases:
        edges.append(max(phase.to_s, edges[-1] + 1e-6))
        positions.append(positions[-1] + sqrt(max(phase.to_s - phase.from_s, MIN_PHASE_S)))
    parts = [position / positions[-1] for position in positions]
    return lambda time_s: float(np.interp(time_s, edges, parts))


def ticks_of(phases: Sequence[FlownPhase], scale: TimeScale) -> Iterator[tuple[float, str]]:
    """The positions and texts of the times at which phases began, as far as there is room."""
    last = float("-inf")
    for phase in phases:
        x = scale(phase.from_s)
        if x - last >= TICK_SPACING:
            last = x
            yield x, format_sim_time(phase.from_s)


def rows_of(
    histories: Sequence[ItemHistory], phases: Sequence[FlownPhase]
) -> dict[tuple[str, str], list[ItemHistory]]:
    """Group the items of flows that were flown by flow and seat, in the order in which their windows begin."""
    rows: dict[tuple[str, str], list[ItemHistory]] = {}
    for item in histories:
        if window_of(item, phases) is not None:
            rows.setdefault((item.flow, item.seat), []).append(item)
    return dict(sorted(rows.items(), key=lambda row: window_in_session(row[1][0], phases)[0]))


def finding_clusters(
    items: Sequence[ItemHistory], findings: Sequence[FindingDetail], scale: TimeScale
) -> Iterator[tuple[float, str]]:
    """The positions of these items' findings, each with its text; findings close together share one text.

    diamonds      1 2      3
    texts          1, 2     3     the text follows the last diamond of a group
    """
    own = {number for item in items for number in item.findings}
    numbers_at: dict[float, list[int]] = {}
    for detail in findings:
        if detail.finding.number in own:
            numbers_at.setdefault(scale(detail.at_s), []).append(detail.finding.number)
    group: list[int] = []
    for x, following in pairwise((*sorted(numbers_at), float("inf"))):
        group += numbers_at[x]
        ends_here = following - x >= MARK_SPACING
        yield x, number_ranges(group) if ends_here else ""
        if ends_here:
            group = []


def _draw_met_band(
    axes: Axes, row: float, items: Sequence[ItemHistory], span: tuple[float, float], scale: TimeScale
) -> None:
    """Draw a band whose thickness is the share of the items that was met, over a span of the flow's window."""
    changes = (s.from_s for item in items for s in item.intervals if span[0] < s.from_s < span[1])
    times = sorted({*span, *changes})
    xs = [scale(time_s) for time_s in times]
    half = [0.42 * share_met(items, time_s) for time_s in times]
    axes.hlines(row, xs[0], xs[-1], color=OPEN, linewidth=0.8, zorder=1)
    low, high = [row - h for h in half], [row + h for h in half]
    axes.fill_between(xs, low, high, step="post", color=MET, linewidth=0)


def share_met(items: Sequence[ItemHistory], time_s: float) -> float:
    """The share of the items that was met, confirmed or waived at a time, from 0 to 1."""
    statuses = (
        next((s.status for s in item.intervals if s.from_s <= time_s < s.to_s), None) for item in items
    )
    return sum(status in SATISFIED for status in statuses) / len(items)
