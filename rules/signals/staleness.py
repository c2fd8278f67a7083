"""Which signals grow too old on a tape, at which look, and when a link speaks of them again.

Takes: a tape.  Gives: `Ageing`: the lapses of what certain frames carry.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple, TypeAlias

import numpy as np

from rules.signals.input_log import InputLog, StaleCheck

CheckPosition: TypeAlias = tuple[int, int]
"""A look: the frame that it comes before, and its number among what comes before that; the frame's own is the last."""


class StaleInterval(NamedTuple):
    """Too old from a look on, until a frame carries it again (the number of frames where none does)."""

    check: CheckPosition
    renewed_at_frame: int


class StaleFinder:
    """Looks and what is carried, of one tape."""

    def __init__(self, log: InputLog) -> None:
        """Nothing asked yet."""
        self._log = log
        self._name_set_ids = np.array(log.name_set_ids, np.int64)
        self._recv_s = np.array(log.recv_s, np.float64)
        self._latest_s = np.maximum.accumulate(self._recv_s) if len(log) else self._recv_s
        for number, marks in log.events_before.items():
            ticks_s = [mark.recv_s for mark in marks if isinstance(mark, StaleCheck)]
            if ticks_s:
                self._latest_s[number:] = np.maximum(self._latest_s[number:], max(ticks_s))

    def stale_intervals(
        self, name_set_ids: tuple[int, ...], age_s: float, first: int, end: int
    ) -> list[StaleInterval]:
        """When that is too old which these bundles carry.

        Args:
            name_set_ids: Their numbers.
            age_s: How old it may be.
            first: The frame with which the stretch begins.
            end: The one after its last.
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
            back = int(following[gap])
            look = self._first_late_check(int(carriers[gap]), back, end, float(due_s[gap]))
            if look is not None:
                found.append(StaleInterval(look, back))
        return found

    def _first_late_check(self, carrier: int, back: int, end: int, due_s: float) -> CheckPosition | None:
        """The first look after a frame, up to the one that carries again, that comes after the due time."""
        return next((place for place, recv_s in self._checks(carrier + 1, back, end) if recv_s > due_s), None)

    def _checks(self, first: int, last: int, end: int) -> Iterator[tuple[CheckPosition, float]]:
        """The looks before these frames, the last one's own included."""
        between, recv_s = self._log.events_before, self._recv_s
        for number in range(first, last + 1):
            marks = between.get(number, ())
            for place, mark in enumerate(marks):
                if isinstance(mark, StaleCheck):
                    yield (number, place), mark.recv_s
            if number < end:
                yield (number, len(marks)), float(recv_s[number])
