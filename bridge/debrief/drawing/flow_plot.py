"""One flow item by item, the seats one below the other: what was open, met, undone and excused when.

Takes: bars and phases.  Gives: SVG.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from bridge.debrief.drawing.flow_marks import (
    LIFE_COLOURS,
    LIFE_HEIGHTS,
    draw_finding_mark,
    draw_flat_titles,
    met_throughout,
    shade_phases,
    shortened,
    window_in_session,
)
from bridge.debrief.drawing.svg_figure import GROUND, OPEN, TEXT, new_figure, svg_of
from bridge.debrief.drawing.time_ticks import set_time_ticks
from bridge.debrief.model import FindingDetail, FlownPhase, ItemHistory
from rules.judge.events import ItemStatus

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW_HEIGHT_IN = 0.17


def split_met(
    histories: Sequence[ItemHistory], phases: Sequence[FlownPhase]
) -> tuple[list[ItemHistory], tuple[str, ...]]:
    """The items of a flow of which there is something to see, and the labels of those that were met throughout."""
    shown = [bar for bar in histories if not met_throughout(bar, window_in_session(bar, phases))]
    kept = {bar.item for bar in shown}
    return shown, tuple(bar.label for bar in histories if bar.item not in kept)


def draw_flow(
    name: str,
    histories: Sequence[ItemHistory],
    phases: Sequence[FlownPhase],
    findings: Sequence[FindingDetail],
    seats: Mapping[str, str],
) -> str:
    """Draw a row for each item, under the title of its seat.

    Args:
        name: names the plot in the page.
        histories: its items, at least one.
        phases: the phases.
        findings: the findings.
        seats: their titles, in their order.
    """
    from_s, to_s = window_in_session(histories[0], phases)
    rows = _rows(histories, seats)
    sheet, (axes,) = new_figure(ROW_HEIGHT_IN * len(rows) + 0.6)
    shade_phases(axes, phases)
    draw_flat_titles(axes, phases, (from_s, to_s))
    at = {case.finding.number: case.at_s for case in findings}
    for row, (_, bar) in enumerate(rows):
        if bar is not None:
            _draw_history(axes, -row, bar)
            for number in bar.findings:
                if from_s <= at.get(number, from_s - 1.0) <= to_s:
                    draw_finding_mark(axes, str(number), at[number], -row)
    axes.set_yticks([-row for row in range(len(rows))], [shortened(label) for label, _ in rows])
    for tick, (_, bar) in zip(axes.get_yticklabels(), rows, strict=True):
        if bar is None:
            tick.set(fontweight="bold", color=TEXT)
    axes.set_ylim(-len(rows) + 0.4, 0.6)
    set_time_ticks(axes, from_s, to_s)
    says = f"{len(histories)} items; thick bars are what was met, thin ones what was open, middling ones what was undone, hollow ones what was excused."
    return svg_of(sheet, name, f"{histories[0].flow_title}, item by item", says)


def _rows(histories: Sequence[ItemHistory], seats: Mapping[str, str]) -> list[tuple[str, ItemHistory | None]]:
    """The items in the order of their seats, each seat headed by its title."""
    order = {seat: place for place, seat in enumerate(seats)}
    rows: list[tuple[str, ItemHistory | None]] = []
    last: str | None = None
    for bar in sorted(histories, key=lambda bar: order.get(bar.seat, len(order))):
        if bar.seat != last:
            last = bar.seat
            rows.append((seats.get(bar.seat, bar.seat), None))
        rows.append((bar.label, bar))
    return rows


def _draw_history(axes: Axes, row: float, history: ItemHistory) -> None:
    for stretch in history.intervals:
        height = LIFE_HEIGHTS.get(stretch.life, 0.2)
        colour = LIFE_COLOURS.get(stretch.life, OPEN)
        hollow = stretch.life is ItemStatus.WAIVED
        axes.broken_barh(
            [(stretch.from_s, stretch.to_s - stretch.from_s)],
            (row - height / 2, height),
            facecolor=GROUND if hollow else colour,
            edgecolor=colour if hollow else "none",
            linewidth=0.8 if hollow else 0.0,
        )
