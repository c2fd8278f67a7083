"""Ticks of a plot's time axis.

Takes: axes and a span in seconds.  Gives: round times as ticks, with clock texts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.common.time_text import format_sim_time

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400)
_MAX_TICKS = 8


def set_time_ticks(axes: Axes, from_s: float, to_s: float) -> None:
    """Set at most about eight ticks at round times, written like the times on other screens."""
    from matplotlib.ticker import FixedLocator, FuncFormatter

    span_s = max(to_s - from_s, 1e-3)
    step_s = next((step for step in _STEPS_S if span_s / step <= _MAX_TICKS), _STEPS_S[-1])
    first = -(-from_s // step_s) * step_s
    ticks = [first + number * step_s for number in range(int((to_s - first) // step_s) + 1)]
    axes.set_xlim(from_s, max(to_s, from_s + 1e-3))
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: format_sim_time(value)))
