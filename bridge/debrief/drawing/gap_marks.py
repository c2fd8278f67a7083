"""Shades the gaps in the data of a plot.

Takes: gaps.  Gives: hatched areas.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from bridge.debrief.drawing.svg_figure import MISSING
from bridge.debrief.gaps import gaps_on_axis_text
from bridge.debrief.model import DataGap

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def shade_gaps(axes: Axes, gaps: Iterable[DataGap], scale: Callable[[float], float] = float) -> None:
    """Hatch the gaps over the height of a plot; the edges keep the shortest of them visible.

    Args:
        axes: the plot area.
        gaps: times on the session's axis, in seconds.
        scale: maps times to positions on the horizontal axis.
    """
    for gap in gaps:
        axes.axvspan(
            scale(gap.from_s), scale(gap.to_s),
            facecolor="none", edgecolor=MISSING, hatch="//////", linewidth=0.6, zorder=0.5,
        )  # fmt: skip


def gaps_description(gaps: Sequence[DataGap]) -> str:
    """A sentence for readers who cannot see the hatching, after a space; '' for no gap."""
    return f" Data missing: {gaps_on_axis_text(gaps)}." if gaps else ""
