"""The plot of one flow: the status of each item over time, grouped by seat.

Takes: item histories and phases.  Gives: SVG.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from bridge.debrief.drawing.flow_marks import (
    STATUS_COLOURS,
    STATUS_HEIGHTS,
    draw_finding_mark,
    draw_flat_titles,
    met_throughout,
    shade_phases,
    shortened,
    window_in_session,
)
from bridge.debrief.drawing.gap_marks import gaps_description, shade_gaps
from bridge.debrief.drawing.svg_figure import GROUND, OPEN, TEXT, new_figure, svg_of
from bridge.debrief.drawing.time_ticks import set_time_ticks
from bridge.debrief.gaps import spans_outside
from bridge.debrief.model import DataGap, FindingDetail, FlownPhase, ItemHistory
from rules.judge.events import ItemStatus

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW_HEIGHT_IN = 0.17


def split_met(
    histories: Sequence[ItemHistory], phases: Sequence[FlownPhase]
) -> tuple[list[ItemHistory], tuple[str, ...]]:
    """Split the items of a flow into those to draw and the labels of those that were met throughout."""
    shown = [item for item in histories if not met_throughout(item, window_in_session(item, phases))]
    shown_ids = {item.item for item in shown}
    return shown, tuple(item.label for item in histories if item.item not in shown_ids)


def draw_flow(
    name: str,
    histories: Sequence[ItemHistory],
    phases: Sequence[FlownPhase],
    findings: Sequence[FindingDetail],
    seats: Mapping[str, str],
    gaps: Sequence[DataGap] = (),
) -> str:
    """Draw a row for each item, under the title of its seat.

    Args:
        name: the id of the plot in the page.
        histories: the items of the flow, at least one.
        phases: the phases.
        findings: the findings.
        seats: the titles of the seats, in their order.
        gaps: the times for which data were missing.
    """
    from_s, to_s = window_in_session(histories[0], phases)
    rows = _rows(histories, seats)
    figure, (axes,) = new_figure(ROW_HEIGHT_IN * len(rows) + 0.6)
    shade_phases(axes, phases)
    shade_gaps(axes, gaps)
    draw_flat_titles(axes, phases, (from_s, to_s))
    opened_s = {detail.finding.number: detail.at_s for detail in findings}
    for row, (_, item) in enumerate(rows):
        if item is not None:
            _draw_history(axes, -row, item, gaps)
            for number in item.findings:
                if from_s <= opened_s.get(number, from_s - 1.0) <= to_s:
                    draw_finding_mark(axes, str(number), opened_s[number], -row)
    axes.set_yticks([-row for row in range(len(rows))], [shortened(label) for label, _ in rows])
    for tick, (_, item) in zip(axes.get_yticklabels(), rows, strict=True):
        if item is None:
            tick.set(fontweight="bold", color=TEXT)
    axes.set_ylim(-len(rows) + 0.4, 0.6)
    set_time_ticks(axes, from_s, to_s)
    description = (
        f"{len(histories)} items; thick bars are met, thin bars open, medium bars undone, hollow bars waived."
        f"{gaps_description(gaps)}"
    )
    return svg_of(figure, name, f"{histories[0].flow_title}, item by item", description)


def _rows(histories: Sequence[ItemHistory], seats: Mapping[str, str]) -> list[tuple[str, ItemHistory | None]]:
    """The items in the order of their seats, with the title of each seat before its items."""
    order = {seat: number for number, seat in enumerate(seats)}
    rows: list[tuple[str, ItemHistory | None]] = []
    last: str | None = None
    for item in sorted(histories, key=lambda item: order.get(item.seat, len(order))):
        if item.seat != last:
            last = item.seat
            rows.append((seats.get(item.seat, item.seat), None))
        rows.append((item.label, item))
    return rows


def _draw_history(axes: Axes, row: float, history: ItemHistory, gaps: Sequence[DataGap]) -> None:
    for interval in history.intervals:
        height = STATUS_HEIGHTS.get(interval.status, 0.2)
        colour = STATUS_COLOURS.get(interval.status, OPEN)
        hollow = interval.status is ItemStatus.WAIVED
        axes.broken_barh(
            [(begin, end - begin) for begin, end in spans_outside(gaps, interval.from_s, interval.to_s)],
            (row - height / 2, height),
            facecolor=GROUND if hollow else colour,
            edgecolor=colour if hollow else "none",
            linewidth=0.8 if hollow else 0.0,
        )
