"""Gaps: times for which the data are known to be missing, and how much of a look-back they are.

From the start of a gap until the frame after it, every signal that a link carries is unknown to the conditions, whatever
its value before and after.  So each form of the language is unknown exactly where the missing data could have changed
its truth.  The values of the trip sheet, and calls, are not affected.

Takes: gaps, signals.  Gives: `GapLog`.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable
from math import inf

from rules.signals.model import Signal

_MAX_GAPS = 1024


class GapLog:
    """The gaps since the monitors began; of more than `_MAX_GAPS` the oldest count only in look-backs without a limit.

    `lossy` are the signals whose data a gap loses.
    """

    def __init__(self, lossy: Collection[str]) -> None:
        self.lossy = frozenset(lossy)
        self._gaps: deque[tuple[float, float]] = deque(maxlen=_MAX_GAPS)
        self._total_s = 0.0

    def add(self, start_s: float, end_s: float) -> None:
        """Add a gap; gaps come in the order of time."""
        self._gaps.append((start_s, end_s))
        self._total_s += end_s - start_s

    def missing_s(self, signals: Iterable[Signal], since_s: float = -inf) -> float:
        """Give the length of all gaps that end after a time and lose data of any of these signals, in seconds."""
        if not self._gaps or self.lossy.isdisjoint(signal.name for signal in signals):
            return 0.0
        if since_s == -inf:
            return self._total_s
        return sum(end_s - start_s for start_s, end_s in self._gaps if end_s > since_s)
