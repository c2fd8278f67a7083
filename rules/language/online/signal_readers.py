"""Evaluates the comparisons that read a signal, where it has moved so far that one can have changed.

When a comparison is evaluated, its distance from a change is shared among its signals.  Each of them has then a range in
which it may move without a change, whatever the others do in theirs:

    altimeter.captain within 100 ft of altimeter.first_officer, with 5 000 and 5 040 ft: 60 ft to the end of the tolerance

    captain          4 970 .. 5 030       each may move by half of it
    first officer    5 010 .. 5 070

Most signals change a little in every frame, and few of them near a limit: a frame then costs one look at the range of each
signal that changed, instead of several comparisons.

Takes: nodes of comparisons and other nodes, with the signals that they read.  Gives: `SignalReaders`, `add_comparison`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import inf
from typing import Any, TypeAlias

from rules.language.online.closures import Reader
from rules.language.online.conditions import PredicateNode
from rules.language.online.distances import CONSTANTS
from rules.language.online.scheduler import MonitorNode, Scheduler
from rules.signals.model import TRIP_PREFIX

FreshNumbers: TypeAlias = Callable[[str], Any]
"""Gives the fresh number of a signal, None where it is not fresh."""

_ROUNDING = 1e-12
"""Most by which a sum is wrong, as a share of the size of its numbers; a sum of 1 000 numbers by less than a tenth of this."""
_STEEPER = 1.0 + 1e-5
"""Factor for slopes: the tolerance of `=` grows with the numbers, by a millionth of what they do."""


class _Side:
    """One signal of a comparison, with the range in which it does not change the truth; `share` is its part of the distance."""

    __slots__ = ("comparison", "high", "low", "name", "readers", "share", "slope")

    def __init__(
        self, comparison: _Comparison, readers: SignalReaders, name: str, slope: float, share: float
    ) -> None:
        self.comparison = comparison
        self.readers = readers
        self.name = name
        self.slope = slope
        self.share = share
        self.low, self.high = inf, -inf


class _Comparison:
    """Comparison of numbers: its node, and one side for each signal."""

    __slots__ = ("_constants", "_distance", "node", "sides")

    def __init__(self, node: PredicateNode, distance: Reader, constants: float) -> None:
        self.node = node
        self.sides: list[_Side] = []
        self._distance = distance
        self._constants = constants

    def set_ranges(self, get: FreshNumbers) -> None:
        """Set the ranges of its signals around their present values."""
        distance = self._distance()
        if distance is None:
            # While one is unknown, no value of the others changes the truth.
            for side in self.sides:
                side.low, side.high = (inf, -inf) if get(side.name) is None else (-inf, inf)
            return
        values = [get(side.name) for side in self.sides]
        size = self._constants + distance
        for side, value in zip(self.sides, values, strict=True):
            size += side.slope * abs(value)
        room = distance - _ROUNDING * size
        for side, value in zip(self.sides, values, strict=True):
            reach = room * side.share if room > 0.0 else 0.0
            side.low, side.high = value - reach, value + reach
            side.readers.narrow(side.low, side.high)


class SignalReaders:
    """All that reads one signal.

    `sides` are its sides of the comparisons of numbers: between `low` and `high` its value changes none of them.  `words` are
    the comparisons of words, `observers` the nodes that are no comparisons.
    """

    __slots__ = ("high", "low", "observers", "sides", "words")

    def __init__(self) -> None:
        self.sides: list[_Side] = []
        self.words: list[PredicateNode] = []
        self.observers: list[MonitorNode] = []
        self.low, self.high = inf, -inf

    @property
    def predicates(self) -> Iterator[PredicateNode]:
        """Every comparison that reads the signal."""
        yield from self.words
        for side in self.sides:
            yield side.comparison.node

    def update_words(self, scheduler: Scheduler) -> None:
        """Evaluate the comparisons of words."""
        for node in self.words:
            _evaluate(node, scheduler)

    def update_numbers(self, value: float | None, get: FreshNumbers, scheduler: Scheduler) -> None:
        """Evaluate the comparisons whose range the value has left; None is a value that is not fresh."""
        for side in self.sides:
            if value is None or not side.low < value < side.high:
                _evaluate(side.comparison.node, scheduler)
                side.comparison.set_ranges(get)
        self.low = max(side.low for side in self.sides)
        self.high = min(side.high for side in self.sides)

    def narrow(self, low: float, high: float) -> None:
        """Narrow the range to that of a comparison which another signal has changed."""
        self.low, self.high = max(self.low, low), min(self.high, high)


def _evaluate(node: PredicateNode, scheduler: Scheduler) -> None:
    truth = node.decide()
    if truth is not node.truth:
        old, node.truth = node.truth, truth
        scheduler.notify_parents(node, old)


def add_comparison(
    readers: Mapping[str, SignalReaders], node: PredicateNode, distance: Reader, slopes: Mapping[str, float]
) -> None:
    """Add a comparison of numbers to the readers of each of its signals.

    Args:
        readers: Those of each signal.
        node: Node of the comparison.
        distance: Closure for its distance from a change.
        slopes: Its slopes.
    """
    comparison = _Comparison(node, distance, slopes[CONSTANTS])
    signals = {name: slope for name, slope in slopes.items() if name != CONSTANTS}
    # Values of the trip sheet rarely change: the distance is for the others, and each change of these is looked at.
    moving = [name for name, slope in signals.items() if slope and not name.startswith(TRIP_PREFIX)]
    for name, slope in signals.items():
        share = 1.0 / (len(moving) * slope * _STEEPER) if name in moving else 0.0
        side = _Side(comparison, readers[name], name, slope, share)
        comparison.sides.append(side)
        readers[name].sides.append(side)
