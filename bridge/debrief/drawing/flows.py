"""One flow item by item, the seats one below the other: what was open, met, undone and excused when.

Takes: bars and phases.  Gives: SVG.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from bridge.debrief.account import Bar, Case, Stage
from bridge.debrief.drawing.bars import (
    COLOURS,
    HEIGHTS,
    head_flat,
    mark,
    met_throughout,
    shade,
    short,
    window_within,
)
from bridge.debrief.drawing.clocks import set_times
from bridge.debrief.drawing.sheet import GROUND, OPEN, TEXT, new_sheet, svg_of
from rules.judge.entries import Life

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROW_IN = 0.17


def parted(bars: Sequence[Bar], stages: Sequence[Stage]) -> tuple[list[Bar], tuple[str, ...]]:
    """The items of a flow of which there is something to see, and the labels of those that were met throughout."""
    shown = [bar for bar in bars if not met_throughout(bar, window_within(bar, stages))]
    kept = {bar.item for bar in shown}
    return shown, tuple(bar.label for bar in bars if bar.item not in kept)


def draw_flow(
    name: str, bars: Sequence[Bar], stages: Sequence[Stage], cases: Sequence[Case], seats: Mapping[str, str]
) -> str:
    """Draw a row for each item, under the title of its seat.

    Args:
        name: names the plot in the page.
        bars: its items, at least one.
        stages: the phases.
        cases: the findings.
        seats: their titles, in their order.
    """
    from_s, to_s = window_within(bars[0], stages)
    rows = _rows(bars, seats)
    sheet, (axes,) = new_sheet(ROW_IN * len(rows) + 0.6)
    shade(axes, stages)
    head_flat(axes, stages, (from_s, to_s))
    at = {case.finding.number: case.at_s for case in cases}
    for row, (_, bar) in enumerate(rows):
        if bar is not None:
            _draw(axes, -row, bar)
            for number in bar.findings:
                if from_s <= at.get(number, from_s - 1.0) <= to_s:
                    mark(axes, str(number), at[number], -row)
    axes.set_yticks([-row for row in range(len(rows))], [short(label) for label, _ in rows])
    for tick, (_, bar) in zip(axes.get_yticklabels(), rows, strict=True):
        if bar is None:
            tick.set(fontweight="bold", color=TEXT)
    axes.set_ylim(-len(rows) + 0.4, 0.6)
    set_times(axes, from_s, to_s)
    says = f"{len(bars)} items; thick bars are what was met, thin ones what was open, middling ones what was undone, hollow ones what was excused."
    return svg_of(sheet, name, f"{bars[0].flow_title}, item by item", says)


def _rows(bars: Sequence[Bar], seats: Mapping[str, str]) -> list[tuple[str, Bar | None]]:
    """The items in the order of their seats, each seat headed by its title."""
    order = {seat: place for place, seat in enumerate(seats)}
    rows: list[tuple[str, Bar | None]] = []
    last: str | None = None
    for bar in sorted(bars, key=lambda bar: order.get(bar.seat, len(order))):
        if bar.seat != last:
            last = bar.seat
            rows.append((seats.get(bar.seat, bar.seat), None))
        rows.append((bar.label, bar))
    return rows


def _draw(axes: Axes, row: float, bar: Bar) -> None:
    for stretch in bar.stretches:
        height = HEIGHTS.get(stretch.life, 0.2)
        colour = COLOURS.get(stretch.life, OPEN)
        hollow = stretch.life is Life.EXCUSED
        axes.broken_barh(
            [(stretch.from_s, stretch.to_s - stretch.from_s)],
            (row - height / 2, height),
            facecolor=GROUND if hollow else colour,
            edgecolor=colour if hollow else "none",
            linewidth=0.8 if hollow else 0.0,
        )
