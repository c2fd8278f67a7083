"""Which signals grow too old on a tape, at which look, and when a link speaks of them again.

Takes: a tape.  Gives: `Ageing`: the lapses of what certain frames carry.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple, TypeAlias

import numpy as np

from rules.signals.tape import Look, Tape

Place: TypeAlias = tuple[int, int]
"""A look: the frame that it comes before, and its number among what comes before that; the frame's own is the last."""


class Lapse(NamedTuple):
    """Too old from a look on, until a frame carries it again (the number of frames where none does)."""

    look: Place
    back: int


class Ageing:
    """Looks and what is carried, of one tape."""

    def __init__(self, tape: Tape) -> None:
        """Nothing asked yet."""
        self._tape = tape
        self._bundles = np.array(tape.bundles, np.int64)
        self._recv_s = np.array(tape.recv_s, np.float64)
        self._latest_s = np.maximum.accumulate(self._recv_s) if len(tape) else self._recv_s
        for number, marks in tape.between.items():
            ticks_s = [mark.recv_s for mark in marks if isinstance(mark, Look)]
            if ticks_s:
                self._latest_s[number:] = np.maximum(self._latest_s[number:], max(ticks_s))

    def lapses(self, bundles: tuple[int, ...], age_s: float, first: int, end: int) -> list[Lapse]:
        """When that is too old which these bundles carry.

        Args:
            bundles: Their numbers.
            age_s: How old it may be.
            first: The frame with which the stretch begins.
            end: The one after its last.
        """
        carriers = np.flatnonzero(np.isin(self._bundles[:end], bundles))
        if not len(carriers):
            return []
        due_s = np.maximum.accumulate(self._recv_s[carriers]) + age_s
        inside = carriers >= first
        carriers, due_s = carriers[inside], due_s[inside]
        if not len(carriers):
            return []
        following = np.append(carriers[1:], end)
        latest_s = np.append(self._latest_s, np.inf)[following]
        found: list[Lapse] = []
        for gap in np.flatnonzero(latest_s > due_s).tolist():
            back = int(following[gap])
            look = self._first_late(int(carriers[gap]), back, end, float(due_s[gap]))
            if look is not None:
                found.append(Lapse(look, back))
        return found

    def _first_late(self, carrier: int, back: int, end: int, due_s: float) -> Place | None:
        """The first look after a frame, up to the one that carries again, that comes after the due time."""
        return next((place for place, recv_s in self._looks(carrier + 1, back, end) if recv_s > due_s), None)

    def _looks(self, first: int, last: int, end: int) -> Iterator[tuple[Place, float]]:
        """The looks before these frames, the last one's own included."""
        between, recv_s = self._tape.between, self._recv_s
        for number in range(first, last + 1):
            marks = between.get(number, ())
            for place, mark in enumerate(marks):
                if isinstance(mark, Look):
                    yield (number, place), mark.recv_s
            if number < end:
                yield (number, len(marks)), float(recv_s[number])
