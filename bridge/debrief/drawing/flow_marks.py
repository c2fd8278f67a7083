"""Shared parts of the timeline and the flow plots: time windows, shaded phases, titles, finding marks.

Takes: item histories and phases.  Gives: windows, marks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from bridge.debrief.drawing.svg_figure import DIM, GROUND, LINE, LOST, MET, OPEN, WAIVED, WARNING
from bridge.debrief.model import FlownPhase, ItemHistory
from rules.judge.events import ItemStatus

if TYPE_CHECKING:
    from matplotlib.axes import Axes

STATUS_COLOURS = {
    ItemStatus.OPEN: OPEN, ItemStatus.MET: MET, ItemStatus.CONFIRMED: MET, ItemStatus.LOST: LOST, ItemStatus.WAIVED: WAIVED,
}  # fmt: skip
STATUS_HEIGHTS = {
    ItemStatus.OPEN: 0.22,
    ItemStatus.MET: 0.7,
    ItemStatus.CONFIRMED: 0.7,
    ItemStatus.LOST: 0.45,
    ItemStatus.WAIVED: 0.6,
}
"""Bars differ by their height too, not by colour alone: met is thick, open is thin, waived is hollow."""
SATISFIED = (ItemStatus.MET, ItemStatus.CONFIRMED, ItemStatus.WAIVED)
MAX_LABEL_LENGTH = 46
MARGIN_S = 30.0
"""Time that is shown before and after the phase of a flow."""
_PLOT_AREA_PT, _LETTER_PT = 340.0, 3.7
"""The approximate width of a flow's plot area, and of a letter of a title."""
TimeScale = Callable[[float], float]


def window_of(history: ItemHistory, phases: Sequence[FlownPhase]) -> tuple[float, float] | None:
    """The time of an item's phase with a margin on either side; None if the phase was not flown."""
    own = [phase for phase in phases if phase.id == history.phase]
    if not own:
        return None
    return own[0].from_s - MARGIN_S, own[-1].to_s + MARGIN_S


def window_in_session(history: ItemHistory, phases: Sequence[FlownPhase]) -> tuple[float, float]:
    """The window of an item within the session; the whole session if its phase was not flown."""
    window = window_of(history, phases)
    first, last = (phases[0].from_s, phases[-1].to_s) if phases else (0.0, 1.0)
    return (max(window[0], first), min(window[1], last)) if window else (first, last)


def met_throughout(history: ItemHistory, window: tuple[float, float]) -> bool:
    """True if an item was met over the whole window and has no finding."""
    covered_s = sum(
        min(interval.to_s, window[1]) - max(interval.from_s, window[0])
        for interval in history.intervals
        if interval.status in (ItemStatus.MET, ItemStatus.CONFIRMED)
        and interval.to_s > window[0]
        and interval.from_s < window[1]
    )
    return not history.findings and covered_s >= window[1] - window[0] - 1e-6


def number_ranges(numbers: Sequence[int]) -> str:
    """Write numbers as ranges: `3 to 6, 8` for 3, 4, 5, 6 and 8."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(_range_text(run) for run in runs)


def shortened(text: str) -> str:
    """Shorten a label to `MAX_LABEL_LENGTH`, with an ellipsis."""
    return text if len(text) <= MAX_LABEL_LENGTH else f"{text[: MAX_LABEL_LENGTH - 1]}…"


def shade_phases(axes: Axes, phases: Sequence[FlownPhase], scale: TimeScale = float) -> None:
    """Shade every second phase."""
    for phase in phases[1::2]:
        axes.axvspan(scale(phase.from_s), scale(phase.to_s), color=LINE, alpha=0.22, linewidth=0)


def draw_slanted_titles(axes: Axes, labels: Sequence[tuple[float, str]], spacing: float) -> None:
    """Write slanted titles above the plot area; a title that would overlap the one before moves to the right.

    Args:
        axes: the plot area.
        labels: the position and the text of each title.
        spacing: the least distance between titles, in the units of the axis.
    """
    last = float("-inf")
    for x, text in labels:
        last = max(x, last + spacing)
        axes.annotate(
            text, (last, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3), textcoords="offset points",
            ha="left", va="bottom", rotation=50, rotation_mode="anchor", fontsize=6.5, color=DIM,
        )  # fmt: skip


def draw_flat_titles(axes: Axes, phases: Sequence[FlownPhase], window: tuple[float, float]) -> None:
    """Write the titles of phases above the plot area, each over its phase if there is room."""
    for phase in phases:
        from_s, to_s = max(phase.from_s, window[0]), min(phase.to_s, window[1])
        if (to_s - from_s) / (window[1] - window[0]) * _PLOT_AREA_PT >= len(phase.title) * _LETTER_PT:
            axes.annotate(
                phase.title, ((from_s + to_s) / 2, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3),
                textcoords="offset points", ha="center", fontsize=6.5, color=DIM,
            )  # fmt: skip


def draw_finding_mark(axes: Axes, numbers: str, x: float, y: float) -> None:
    """Draw a finding as a diamond with its number on a background, so that it can be read on a bar."""
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
