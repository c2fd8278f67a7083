"""Flows as bars along the time of the flight: one overview of all, and one plot for each flow.

Takes: bars and phases.  Gives: SVG.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from bridge.debrief.account import Bar, Case, Stage
from bridge.debrief.drawing.clocks import set_times
from bridge.debrief.drawing.sheet import (
    DIM,
    EXCUSED,
    GROUND,
    LINE,
    LOST,
    MET,
    OPEN,
    TEXT,
    WARNING,
    new_sheet,
    svg_of,
)
from rules.judge.entries import Life

if TYPE_CHECKING:
    from matplotlib.axes import Axes

COLOURS = {
    Life.OPEN: OPEN, Life.MET: MET, Life.CONFIRMED: MET, Life.LOST: LOST, Life.EXCUSED: EXCUSED,
}  # fmt: skip
HEIGHTS = {Life.OPEN: 0.22, Life.MET: 0.7, Life.CONFIRMED: 0.7, Life.LOST: 0.45, Life.EXCUSED: 0.3}
"""Bars differ by their height too, not by colour alone: what is so is thick, what is open thin."""
ROW_IN = 0.17
LONGEST_LABEL = 46


def draw_overview(
    stages: Sequence[Stage], bars: Sequence[Bar], cases: Sequence[Case], seats: Mapping[str, str], to_s: float
) -> str:
    """Each flow and seat as one row: how much of it was so over time, and what was found.

    Args:
        stages: the phases.
        bars: every item of every flow.
        cases: the findings.
        seats: their titles.
        to_s: where the session ends.
    """
    rows = _rows(bars, stages)
    sheet, (axes,) = new_sheet(ROW_IN * 1.15 * max(len(rows), 1) + 0.9)
    _background(axes, stages)
    names = []
    for row, ((_, seat), items) in enumerate(rows.items()):
        window = _window(items[0], stages)
        _share(axes, -row, items, window)
        names.append(f"{items[0].flow_title}, {seats.get(seat, seat)}")
        for at_s, numbers in _found_in(items, cases).items():
            _number(axes, ranges(numbers), at_s, -row)
    axes.set_yticks([-row for row in range(len(rows))], [_short(name) for name in names])
    axes.set_ylim(-len(rows) + 0.4, 0.6)
    set_times(axes, stages[0].from_s if stages else 0.0, to_s)
    says = f"{len(rows)} rows, one for each flow and seat, over {len(stages)} phases; diamonds are findings by their numbers."
    return svg_of(sheet, "overview", "Timeline of the flows", says)


def draw_flow(
    name: str, bars: Sequence[Bar], stages: Sequence[Stage], cases: Sequence[Case], seats: Mapping[str, str]
) -> str:
    """One flow, a row for each item, the seats one below the other.

    Args:
        name: names the plot in the page.
        bars: its items.
        stages: the phases.
        cases: the findings.
        seats: their titles.
    """
    from_s, to_s = _window(bars[0], stages)
    ordered = sorted(bars, key=lambda bar: list(seats).index(bar.seat) if bar.seat in seats else 99)
    sheet, (axes,) = new_sheet(ROW_IN * len(ordered) + 0.75)
    _background(axes, stages)
    at = {case.finding.number: case.at_s for case in cases}
    for row, bar in enumerate(ordered):
        for stretch in bar.stretches:
            height = HEIGHTS.get(stretch.life, 0.2)
            axes.broken_barh(
                [(stretch.from_s, stretch.to_s - stretch.from_s)],
                (-row - height / 2, height),
                facecolors=COLOURS.get(stretch.life, OPEN),
            )
        for number in bar.findings:
            if from_s <= at[number] <= to_s:
                _number(axes, str(number), at[number], -row)
    axes.set_yticks([-row for row in range(len(ordered))], [_short(f"{bar.label}") for bar in ordered])
    _part_seats(axes, ordered, seats)
    axes.set_ylim(-len(ordered) + 0.4, 0.6)
    set_times(axes, from_s, to_s)
    says = f"{len(ordered)} items; thick bars are what was so, thin ones what was open, middling ones what was undone."
    return svg_of(sheet, name, f"{bars[0].flow_title}, item by item", says)


def _rows(bars: Sequence[Bar], stages: Sequence[Stage]) -> dict[tuple[str, str], list[Bar]]:
    """The items by flow and seat, of flows whose phase was flown; in the order in which they begin."""
    rows: dict[tuple[str, str], list[Bar]] = {}
    for bar in bars:
        if window_of(bar, stages) is not None:
            rows.setdefault((bar.flow, bar.seat), []).append(bar)
    return dict(sorted(rows.items(), key=lambda row: _window(row[1][0], stages)[0]))


def window_of(bar: Bar, stages: Sequence[Stage]) -> tuple[float, float] | None:
    """When the flow of an item was flown: its phase and half a minute on either side; None where it never was."""
    own = [stage for stage in stages if stage.id == bar.phase]
    if not own:
        return None
    return own[0].from_s - 30.0, own[-1].to_s + 30.0


def _window(bar: Bar, stages: Sequence[Stage]) -> tuple[float, float]:
    found = window_of(bar, stages)
    first, last = (stages[0].from_s, stages[-1].to_s) if stages else (0.0, 1.0)
    return (max(found[0], first), min(found[1], last)) if found else (first, last)


def _share(axes: Axes, row: float, items: Sequence[Bar], window: tuple[float, float]) -> None:
    """How much of a flow was so, as the thickness of a band, within the time in which it was flown."""
    times = sorted(
        {
            window[0],
            window[1],
            *(s.from_s for item in items for s in item.stretches if window[0] < s.from_s < window[1]),
        }
    )
    shares = [_so(items, time_s) for time_s in times]
    axes.hlines(row, *window, color=OPEN, linewidth=0.8, zorder=1)
    half = [0.42 * share for share in shares]
    axes.fill_between(
        times, [row - h for h in half], [row + h for h in half], step="post", color=MET, linewidth=0
    )


def _so(items: Sequence[Bar], time_s: float) -> float:
    good = (Life.MET, Life.CONFIRMED, Life.EXCUSED)
    lives = [next((s.life for s in item.stretches if s.from_s <= time_s < s.to_s), None) for item in items]
    return sum(life in good for life in lives) / len(items)


def _background(axes: Axes, stages: Sequence[Stage]) -> None:
    """The phases as bands, every second one shaded, with their codes on top."""
    for number, stage in enumerate(stages):
        if number % 2:
            axes.axvspan(stage.from_s, stage.to_s, color=LINE, alpha=0.22, linewidth=0)
    end_s = stages[-1].to_s if stages else 0.0
    last_s = float("-inf")
    for stage in stages:
        middle_s = (stage.from_s + stage.to_s) / 2
        if middle_s - last_s > 0.035 * (end_s - stages[0].from_s):
            last_s = middle_s
            axes.annotate(
                stage.code,
                (middle_s, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(0, 3),
                textcoords="offset points",
                ha="center",
                fontsize=6,
                color=DIM,
                annotation_clip=True,
            )


def _found_in(items: Sequence[Bar], cases: Sequence[Case]) -> dict[float, list[int]]:
    """The findings of these items, those of one moment together."""
    mine = {number for item in items for number in item.findings}
    found: dict[float, list[int]] = {}
    for case in cases:
        if case.finding.number in mine:
            found.setdefault(case.at_s, []).append(case.finding.number)
    return found


def ranges(numbers: Sequence[int]) -> str:
    """`3 to 6, 8` for 3, 4, 5, 6 and 8."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(_run(run) for run in runs)


def _run(run: Sequence[int]) -> str:
    if len(run) == 1:
        return str(run[0])
    return f"{run[0]} to {run[-1]}" if len(run) > 2 else f"{run[0]}, {run[1]}"


def _number(axes: Axes, number: str, at_s: float, row: float) -> None:
    """A finding: a diamond, and its number on the ground's colour so that it can be read on a bar."""
    axes.plot([at_s], [row], marker="D", markersize=3.5, color=WARNING, clip_on=False, zorder=4)
    axes.annotate(
        number, (at_s, row), xytext=(5, 0), textcoords="offset points", fontsize=6.5, color=WARNING, va="center",
        zorder=5, bbox={"facecolor": GROUND, "edgecolor": "none", "pad": 0.6},
    )  # fmt: skip


def _part_seats(axes: Axes, bars: Sequence[Bar], seats: Mapping[str, str]) -> None:
    """A line between the seats, and their titles at the right."""
    for row, bar in enumerate(bars):
        if row == 0 or bars[row - 1].seat != bar.seat:
            if row:
                axes.axhline(-row + 0.5, color=DIM, linewidth=0.8)
            axes.annotate(
                seats.get(bar.seat, bar.seat), (1.0, -row), xycoords=("axes fraction", "data"), xytext=(-2, 0),
                textcoords="offset points", ha="right", va="center", fontsize=7, color=TEXT,
                bbox={"facecolor": GROUND, "edgecolor": "none", "pad": 1.0, "alpha": 0.8},
            )  # fmt: skip


def _short(text: str) -> str:
    return text if len(text) <= LONGEST_LABEL else f"{text[: LONGEST_LABEL - 1]}…"
