"""Stale intervals of signals in an input log: from the stale check that finds them to their renewal.

Takes: an input log.  Gives: `StaleFinder`: the stale intervals of the signals that certain frames carry.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple, TypeAlias

import numpy as np

from rules.signals.input_log import InputLog, StaleCheck

CheckPosition: TypeAlias = tuple[int, int]
"""Position of a stale check: the frame after it, and its index among the events before that frame; the frame's own check is the last."""


class StaleInterval(NamedTuple):
    """Interval from the check that finds a signal stale to the frame that renews it (the number of frames where none does)."""

    check: CheckPosition
    renewed_at_frame: int


class StaleFinder:
    """Finds the stale intervals of one log."""

    def __init__(self, log: InputLog) -> None:
        """Compute the latest clock reading before each frame."""
        self._log = log
        self._name_set_ids = np.array(log.name_set_ids, np.int64)
        self._recv_s = np.array(log.recv_s, np.float64)
        self._latest_s = np.maximum.accumulate(self._recv_s) if len(log) else self._recv_s
        for number, events in log.events_before.items():
            checks_s = [event.recv_s for event in events if isinstance(event, StaleCheck)]
            if checks_s:
                self._latest_s[number:] = np.maximum(self._latest_s[number:], max(checks_s))

    def stale_intervals(
        self, name_set_ids: tuple[int, ...], age_s: float, first: int, end: int
    ) -> list[StaleInterval]:
        """Find the intervals in which the signals of these name sets are stale.

        Args:
            name_set_ids: Indices of the name sets that carry the signals.
            age_s: Their maximum age.
            first: The first frame of the segment.
            end: The frame after its last.
        """
        carriers = np.flatnonzero(np.isin(self._name_set_ids[:end], name_set_ids))
        if not len(carriers):
            return []
        due_s = np.maximum.accumulate(self._recv_s[carriers]) + age_s
        inside = carriers >= first
        carriers, due_s = carriers[inside], due_s[inside]
        if not len(carriers):
            return []
        following = np.append(carriers[1:], end)
        latest_s = np.append(self._latest_s, np.inf)[following]
        found: list[StaleInterval] = []
        for gap in np.flatnonzero(latest_s > due_s).tolist():
            renewed_at = int(following[gap])
            check = self._first_late_check(int(carriers[gap]), renewed_at, end, float(due_s[gap]))
            if check is not None:
                found.append(StaleInterval(check, renewed_at))
        return found

    def _first_late_check(
        self, carrier: int, renewed_at: int, end: int, due_s: float
    ) -> CheckPosition | None:
        """Find the first check after a frame, up to the renewing frame, that is later than the due time."""
        return next(
            (place for place, recv_s in self._checks(carrier + 1, renewed_at, end) if recv_s > due_s), None
        )

    def _checks(self, first: int, last: int, end: int) -> Iterator[tuple[CheckPosition, float]]:
        """Give the checks before these frames, the last frame's own included."""
        between, recv_s = self._log.events_before, self._recv_s
        for number in range(first, last + 1):
            events = between.get(number, ())
            for place, event in enumerate(events):
                if isinstance(event, StaleCheck):
                    yield (number, place), event.recv_s
            if number < end:
                yield (number, len(events)), float(recv_s[number])
