"""What the timeline and the plots of flows share: when a flow was flown, phases behind it, findings on it.

Takes: bars and phases.  Gives: windows, marks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from bridge.debrief.drawing.svg_figure import DIM, EXCUSED, GROUND, LINE, LOST, MET, OPEN, WARNING
from bridge.debrief.model import FlownPhase, ItemHistory
from rules.judge.events import ItemStatus

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LIFE_COLOURS = {
    ItemStatus.OPEN: OPEN, ItemStatus.MET: MET, ItemStatus.CONFIRMED: MET, ItemStatus.LOST: LOST, ItemStatus.WAIVED: EXCUSED,
}  # fmt: skip
LIFE_HEIGHTS = {
    ItemStatus.OPEN: 0.22,
    ItemStatus.MET: 0.7,
    ItemStatus.CONFIRMED: 0.7,
    ItemStatus.LOST: 0.45,
    ItemStatus.WAIVED: 0.6,
}
"""Bars differ by their height too, not by colour alone: what is met is thick, what is open thin; excused is hollow."""
SATISFIED = (ItemStatus.MET, ItemStatus.CONFIRMED, ItemStatus.WAIVED)
MAX_LABEL_LENGTH = 46
MARGIN_S = 30.0
"""How much is shown before and after the phase of a flow."""
_PLOT_AREA_PT, _LETTER_PT = 340.0, 3.7
"""About how wide the field of a flow is, and a letter of a title."""
TimeScale = Callable[[float], float]


def window_of(history: ItemHistory, phases: Sequence[FlownPhase]) -> tuple[float, float] | None:
    """When the flow of an item was flown: its phase and a little on either side; None where it never was."""
    own = [stage for stage in phases if stage.id == history.phase]
    if not own:
        return None
    return own[0].from_s - MARGIN_S, own[-1].to_s + MARGIN_S


def window_in_session(history: ItemHistory, phases: Sequence[FlownPhase]) -> tuple[float, float]:
    """The same within the session; the whole session where the flow never was flown."""
    found = window_of(history, phases)
    first, last = (phases[0].from_s, phases[-1].to_s) if phases else (0.0, 1.0)
    return (max(found[0], first), min(found[1], last)) if found else (first, last)


def met_throughout(history: ItemHistory, window: tuple[float, float]) -> bool:
    """Whether an item was met for all the time in which its flow was flown, and nothing was found of it."""
    covered_s = sum(
        min(stretch.to_s, window[1]) - max(stretch.from_s, window[0])
        for stretch in history.intervals
        if stretch.life in (ItemStatus.MET, ItemStatus.CONFIRMED)
        and stretch.to_s > window[0]
        and stretch.from_s < window[1]
    )
    return not history.findings and covered_s >= window[1] - window[0] - 1e-6


def number_ranges(numbers: Sequence[int]) -> str:
    """`3 to 6, 8` for 3, 4, 5, 6 and 8."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(_range_text(run) for run in runs)


def shortened(text: str) -> str:
    """A label that leaves room for the bars."""
    return text if len(text) <= MAX_LABEL_LENGTH else f"{text[: MAX_LABEL_LENGTH - 1]}…"


def shade_phases(axes: Axes, phases: Sequence[FlownPhase], scale: TimeScale = float) -> None:
    """The phases as bands, every second one shaded."""
    for number, stage in enumerate(phases):
        if number % 2:
            axes.axvspan(scale(stage.from_s), scale(stage.to_s), color=LINE, alpha=0.22, linewidth=0)


def draw_slanted_titles(axes: Axes, labels: Sequence[tuple[float, str]], spacing: float) -> None:
    """Titles above the field, aslant; those that would stand on each other move to the right.

    Args:
        axes: the field.
        labels: where each stands, and what it says.
        spacing: how far apart they must be, in the units of the axis.
    """
    last = float("-inf")
    for at, text in labels:
        last = max(at, last + spacing)
        axes.annotate(
            text, (last, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3), textcoords="offset points",
            ha="left", va="bottom", rotation=50, rotation_mode="anchor", fontsize=6.5, color=DIM,
        )  # fmt: skip


def draw_flat_titles(axes: Axes, phases: Sequence[FlownPhase], window: tuple[float, float]) -> None:
    """The titles of phases above the field, each over its own phase where that leaves room for it."""
    for stage in phases:
        from_s, to_s = max(stage.from_s, window[0]), min(stage.to_s, window[1])
        if (to_s - from_s) / (window[1] - window[0]) * _PLOT_AREA_PT >= len(stage.title) * _LETTER_PT:
            axes.annotate(
                stage.title, ((from_s + to_s) / 2, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3),
                textcoords="offset points", ha="center", fontsize=6.5, color=DIM,
            )  # fmt: skip


def draw_finding_mark(axes: Axes, numbers: str, x: float, y: float) -> None:
    """A finding: a diamond, and its number on the ground's colour so that it can be read on a bar."""
    axes.plot([x], [y], marker="D", markersize=3.5, color=WARNING, clip_on=False, zorder=4)
    if numbers:
        axes.annotate(
            numbers, (x, y), xytext=(5, 0), textcoords="offset points", fontsize=6.5, color=WARNING, va="center",
            zorder=5, bbox={"facecolor": GROUND, "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip


def _range_text(run: Sequence[int]) -> str:
    if len(run) == 1:
        return str(run[0])
    return f"{run[0]} to {run[-1]}" if len(run) > 2 else f"{run[0]}, {run[1]}"
