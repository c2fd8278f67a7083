"""A tape: frames, looks and requests in their order, flattened so that columns can be made of them.

Takes: what went in, one after the other.  Gives: `Tape`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rules.signals.model import Frame, Quality, Value


@dataclass(frozen=True, slots=True)
class Look:
    """Time passed without news."""

    recv_s: float


class Tape:
    """All that went in: frame i has `counts[i]` of the names and values, which stand one after the other.

    A value is None where the sample was not fresh.  `bundles` has the number of each frame's names among `carried`;
    `between` what came before a frame, by its number.
    """

    def __init__(self) -> None:
        """Nothing on it."""
        self.sim_s: list[float] = []
        self.recv_s: list[float] = []
        self.epochs: list[int] = []
        self.counts: list[int] = []
        self.names: list[str] = []
        self.values: list[Value | None] = []
        self.calls: dict[int, tuple[str, ...]] = {}
        self.between: dict[int, list[object]] = {}
        self.bundles: list[int] = []
        self.carried: list[tuple[str, ...]] = []
        self._numbers: dict[tuple[str, ...], int] = {}
        self._last: tuple[Sequence[str], int] = ((), -1)

    def __len__(self) -> int:
        """How many frames there are."""
        return len(self.sim_s)

    def frame(self, frame: Frame) -> None:
        """Put a frame behind what is on the tape."""
        names = [sample.name for sample in frame.changes]
        values = [s.value if s.quality is Quality.FRESH else None for s in frame.changes]
        self.add(frame.sim_s, frame.recv_s, frame.epoch, frame.carried, names, values, frame.calls)

    def add(
        self,
        sim_s: float,
        recv_s: float,
        epoch: int,
        carried: Sequence[str],
        names: Iterable[str],
        values: Iterable[Value | None],
        calls: Sequence[str] = (),
    ) -> None:
        """Put a frame behind what is on the tape, in parts; None is a value that is not fresh."""
        if calls:
            self.calls[len(self.sim_s)] = tuple(calls)
        before = len(self.names)
        self.names.extend(names)
        self.values.extend(values)
        self.counts.append(len(self.names) - before)
        self.sim_s.append(sim_s)
        self.recv_s.append(recv_s)
        self.epochs.append(epoch)
        self.bundles.append(self._bundle(carried))

    def tick(self, recv_s: float) -> None:
        """Time passed without news."""
        self.between.setdefault(len(self.sim_s), []).append(Look(recv_s))

    def request(self, request: object) -> None:
        """Somebody asked for something."""
        self.between.setdefault(len(self.sim_s), []).append(request)

    def before(self) -> list[object]:
        """What was asked before the first frame."""
        return [mark for mark in self.between.get(0, ()) if not isinstance(mark, Look)]

    def stretches(self) -> list[tuple[int, int]]:
        """The first frame of each epoch, and the one after its last."""
        if not self.epochs:
            return []
        cuts = np.flatnonzero(np.diff(np.array(self.epochs, np.int64))) + 1
        return list(pairwise([0, *cuts.tolist(), len(self.epochs)]))

    def _bundle(self, carried: Sequence[str]) -> int:
        """The number of these names."""
        last, number = self._last
        if last is not carried:
            names = tuple(carried)
            number = self._numbers.setdefault(names, len(self._numbers))
            if number == len(self.carried):
                self.carried.append(names)
            self._last = (carried, number)
        return number
