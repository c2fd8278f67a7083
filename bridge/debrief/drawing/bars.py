"""What the timeline and the plots of flows share: when a flow was flown, phases behind it, findings on it.

Takes: bars and phases.  Gives: windows, marks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from bridge.debrief.account import Bar, Stage
from bridge.debrief.drawing.sheet import DIM, EXCUSED, GROUND, LINE, LOST, MET, OPEN, WARNING
from rules.judge.entries import Life

if TYPE_CHECKING:
    from matplotlib.axes import Axes

COLOURS = {
    Life.OPEN: OPEN, Life.MET: MET, Life.CONFIRMED: MET, Life.LOST: LOST, Life.EXCUSED: EXCUSED,
}  # fmt: skip
HEIGHTS = {Life.OPEN: 0.22, Life.MET: 0.7, Life.CONFIRMED: 0.7, Life.LOST: 0.45, Life.EXCUSED: 0.6}
"""Bars differ by their height too, not by colour alone: what is met is thick, what is open thin; excused is hollow."""
GOOD = (Life.MET, Life.CONFIRMED, Life.EXCUSED)
LONGEST_LABEL = 46
BESIDE_S = 30.0
"""How much is shown before and after the phase of a flow."""
_FIELD_PT, _LETTER_PT = 340.0, 3.7
"""About how wide the field of a flow is, and a letter of a title."""
Scale = Callable[[float], float]


def window_of(bar: Bar, stages: Sequence[Stage]) -> tuple[float, float] | None:
    """When the flow of an item was flown: its phase and a little on either side; None where it never was."""
    own = [stage for stage in stages if stage.id == bar.phase]
    if not own:
        return None
    return own[0].from_s - BESIDE_S, own[-1].to_s + BESIDE_S


def window_within(bar: Bar, stages: Sequence[Stage]) -> tuple[float, float]:
    """The same within the session; the whole session where the flow never was flown."""
    found = window_of(bar, stages)
    first, last = (stages[0].from_s, stages[-1].to_s) if stages else (0.0, 1.0)
    return (max(found[0], first), min(found[1], last)) if found else (first, last)


def met_throughout(bar: Bar, window: tuple[float, float]) -> bool:
    """Whether an item was met for all the time in which its flow was flown, and nothing was found of it."""
    covered_s = sum(
        min(stretch.to_s, window[1]) - max(stretch.from_s, window[0])
        for stretch in bar.stretches
        if stretch.life in (Life.MET, Life.CONFIRMED)
        and stretch.to_s > window[0]
        and stretch.from_s < window[1]
    )
    return not bar.findings and covered_s >= window[1] - window[0] - 1e-6


def ranges(numbers: Sequence[int]) -> str:
    """`3 to 6, 8` for 3, 4, 5, 6 and 8."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(_run(run) for run in runs)


def short(text: str) -> str:
    """A label that leaves room for the bars."""
    return text if len(text) <= LONGEST_LABEL else f"{text[: LONGEST_LABEL - 1]}…"


def shade(axes: Axes, stages: Sequence[Stage], scale: Scale = float) -> None:
    """The phases as bands, every second one shaded."""
    for number, stage in enumerate(stages):
        if number % 2:
            axes.axvspan(scale(stage.from_s), scale(stage.to_s), color=LINE, alpha=0.22, linewidth=0)


def head(axes: Axes, labels: Sequence[tuple[float, str]], room: float) -> None:
    """Titles above the field, aslant; those that would stand on each other move to the right.

    Args:
        axes: the field.
        labels: where each stands, and what it says.
        room: how far apart they must be, in the units of the axis.
    """
    last = float("-inf")
    for at, text in labels:
        last = max(at, last + room)
        axes.annotate(
            text, (last, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3), textcoords="offset points",
            ha="left", va="bottom", rotation=50, rotation_mode="anchor", fontsize=6.5, color=DIM,
        )  # fmt: skip


def head_flat(axes: Axes, stages: Sequence[Stage], window: tuple[float, float]) -> None:
    """The titles of phases above the field, each over its own phase where that leaves room for it."""
    for stage in stages:
        from_s, to_s = max(stage.from_s, window[0]), min(stage.to_s, window[1])
        if (to_s - from_s) / (window[1] - window[0]) * _FIELD_PT >= len(stage.title) * _LETTER_PT:
            axes.annotate(
                stage.title, ((from_s + to_s) / 2, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3),
                textcoords="offset points", ha="center", fontsize=6.5, color=DIM,
            )  # fmt: skip


def mark(axes: Axes, numbers: str, at: float, row: float) -> None:
    """A finding: a diamond, and its number on the ground's colour so that it can be read on a bar."""
    axes.plot([at], [row], marker="D", markersize=3.5, color=WARNING, clip_on=False, zorder=4)
    if numbers:
        axes.annotate(
            numbers, (at, row), xytext=(5, 0), textcoords="offset points", fontsize=6.5, color=WARNING, va="center",
            zorder=5, bbox={"facecolor": GROUND, "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip


def _run(run: Sequence[int]) -> str:
    if len(run) == 1:
        return str(run[0])
    return f"{run[0]} to {run[-1]}" if len(run) > 2 else f"{run[0]}, {run[1]}"
