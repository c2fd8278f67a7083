"""Stale intervals of signals in an input log: from the stale check that finds them to their renewal.

Takes: an input log.  Gives: `StaleFinder`: the stale intervals of the signals that certain frames carry.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple, TypeAlias

import numpy as np

from rules.signals.columns import FloatArray
from rules.signals.input_log import InputLog, StaleCheck
from rules.signals.model import LONGEST_STEP_S

CheckPosition: TypeAlias = tuple[int, int]
"""Position of a stale check: the frame after it, and its index among the events before that frame; the frame's own check is the last."""


class StaleInterval(NamedTuple):
    """Interval from the check that finds a signal stale to the frame that renews it (the number of frames where none does).

    `resumed` is True where that frame ends a stall: the signal is fresh again just before it.
    """

    check: CheckPosition
    renewed_at_frame: int
    resumed: bool = False


class StaleFinder:
    """Finds the stale intervals of one log."""

    def __init__(self, log: InputLog) -> None:
        """Compute the age clock at each frame, and the latest reading of it up to each frame since the one before."""
        self._log = log
        self._name_set_ids = np.array(log.name_set_ids, np.int64)
        self._recv_s = np.array(log.recv_s, np.float64)
        self._stalls_s = _stalls_s(log, self._recv_s)
        self._stalled_s = np.cumsum(self._stalls_s)
        self._age_s = self._recv_s - self._stalled_s
        self._latest_age_s = np.append(self._age_s, -np.inf)
        for number, events in log.events_before.items():
            checks_s = [event.recv_s for event in events if isinstance(event, StaleCheck)]
            if checks_s and number:
                latest_s = max(checks_s) - self._stalled_s[number - 1]
                self._latest_age_s[number] = max(self._latest_age_s[number], latest_s)

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
        due_s = np.maximum.accumulate(self._age_s[carriers]) + age_s
        inside = carriers >= first
        carriers, due_s = carriers[inside], due_s[inside]
        if not len(carriers):
            return []
        # The latest reading from after each carrier up to the next one, or up to the end.
        latest_s = np.maximum.reduceat(self._latest_age_s[: end + 1], carriers + 1)
        following = np.append(carriers[1:], end)
        found: list[StaleInterval] = []
        for gap in np.flatnonzero(latest_s > due_s).tolist():
            found += self._between(int(carriers[gap]), int(following[gap]), end, float(due_s[gap]))
        return found

    def _between(self, carrier: int, renewed_at: int, end: int, due_s: float) -> Iterator[StaleInterval]:
        """Find the stale intervals from one frame that carries a signal to the next one, or to the end.

        Args:
            carrier: The frame that carries it.
            renewed_at: The next one.
            end: The frame after the last.
            due_s: The reading of the age clock after which it is stale.
        """
        check: CheckPosition | None = None
        for number in range(carrier + 1, renewed_at + 1):
            check = check or self._late_tick(number, due_s)
            if number == end:
                break
            resumed = check is not None and check[0] == number and self._stalls_s[number] > 0
            if check is not None and resumed and self._age_s[number] <= due_s:
                yield StaleInterval(check, number, resumed=True)
                check = None
            if check is None and self._age_s[number] > due_s:
                check = number, len(self._log.events_before.get(number, ()))
        if check is not None:
            yield StaleInterval(check, renewed_at)

    def _late_tick(self, number: int, due_s: float) -> CheckPosition | None:
        """Find the first check between a frame and the one before that is later than the due time."""
        stalled_s = self._stalled_s[number - 1]
        for place, event in enumerate(self._log.events_before.get(number, ())):
            if isinstance(event, StaleCheck) and event.recv_s - stalled_s > due_s:
                return number, place
        return None


def _stalls_s(log: InputLog, recv_s: FloatArray) -> FloatArray:
    """Compute the length of the stall before each frame, as `rules.signals.model.stalled_s` does."""
    stalls_s, sim_s = np.zeros(len(recv_s)), np.array(log.sim_s, np.float64)
    latest_s = np.maximum.accumulate(recv_s) if len(recv_s) else recv_s
    for first, end in log.epoch_ranges():
        # The first frame of an epoch follows a jump of the clock.
        steps_s = sim_s[first + 1 : end] - np.maximum.accumulate(sim_s[first:end])[:-1]
        silences_s = recv_s[first + 1 : end] - latest_s[first : end - 1]
        stalls_s[first + 1 : end] = np.maximum(silences_s - np.maximum(steps_s, LONGEST_STEP_S), 0.0)
    stalls_s[list(log.gaps)] = 0.0
    return stalls_s
