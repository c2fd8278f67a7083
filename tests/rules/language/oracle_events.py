"""Histories, pieces of time, and possible outcomes of events for the oracle.

Takes: nothing of the online evaluator.  Gives: `History`, `Piece`, and functions on them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product
from math import inf
from typing import Any, TypeAlias

from rules.language.truth import Truth

AnyValue: TypeAlias = Any
"""Number, word or truth, or None for unknown."""
History: TypeAlias = list[tuple[float, AnyValue]]
"""(start, value) in order; the first starts at minus infinity, the last has no end."""
Occurrence: TypeAlias = tuple[float, int]
"""(t, 1) the moment t; (t, 0) the moments just before it; (inf, 1) still continuing."""
Happening: TypeAlias = tuple[Occurrence, Occurrence] | None
"""First and latest moment in one possible outcome; None where the event did not happen."""


@dataclass(frozen=True)
class Piece:
    """Moments of an event: [low, high), or the one moment low where `point`; known from `seen_s` on.

    `bridged` ones are doubts about a short gap with the same value on both sides.  `once` is one certain moment somewhere
    from low to high.
    """

    low: float
    high: float
    sure: bool
    point: bool = False
    data_start_s: float = -inf
    seen_s: float = -inf
    bridged: bool = False
    once: bool = False

    def meets(self, after_s: float, until_s: float) -> bool:
        """Check that one of its moments lies in (after, until]."""
        if self.once:
            return after_s < self.low and self.high <= until_s
        if self.point:
            return after_s < self.low <= until_s and self.seen_s <= until_s
        return self.low <= until_s and self.high > after_s

    def latest(self, now_s: float) -> Occurrence:
        """Last moment as seen at `now_s`."""
        if self.point:
            return (self.low, 1)
        return (inf, 1) if self.high > now_s else (self.high, 0)


def segments(history: History) -> Iterable[tuple[float, float, Any]]:
    """(start, end, value) of every piece."""
    for (start, value), (end, _) in pairwise([*history, (inf, None)]):
        yield start, end, value


def at(history: History, time_s: float) -> AnyValue:
    """Value at a time."""
    return next(value for start, end, value in segments(history) if start <= time_s < end)


def merge_equal(history: History) -> History:
    """Merge neighbours with the same value."""
    merged: History = []
    for start, value in history:
        if not merged or merged[-1][1] != value:
            merged.append((start, value))
    return merged


def within(history: History, low_s: float, high_s: float) -> list[Any]:
    """Values of all pieces that have a moment in [low, high]."""
    return [value for start, end, value in segments(history) if start <= high_s and end > low_s]


def kleene_and(values: Sequence[Truth]) -> Truth:
    """Kleene's and."""
    return False if False in values else (None if None in values else True)


def kleene_not(truth: Truth) -> Truth:
    """Kleene's not."""
    return None if truth is None else not truth


def counting(pieces: Iterable[Piece], t: float) -> list[Piece]:
    """Pieces that have begun by t; after the data began, earlier uncertain ones are left out."""
    found = []
    for piece in pieces:
        if piece.sure or t < piece.data_start_s:
            found.append(piece)
        elif piece.low >= piece.data_start_s or (piece.high > piece.data_start_s and not piece.point):
            found.append(replace(piece, low=max(piece.low, piece.data_start_s)))
    return [piece for piece in found if (piece.high if piece.once else piece.low) <= t]


def unseen_changes(history: History, is_event: Callable[[AnyValue, AnyValue], bool]) -> list[Piece]:
    """Certain moments in unknown times, by the values before and after them."""
    return [
        Piece(start, end, sure=True, once=True)
        for (_, before), (start, value), (end, after) in zip(history, history[1:], history[2:], strict=False)
        if value is None and before is not None and is_event(before, after)
    ]


def likely(pieces: Iterable[Piece], t: float) -> list[Piece]:
    """Pieces without the doubts about short gaps that are over at t."""
    return [piece for piece in pieces if not (piece.bridged and piece.high <= t)]


def latest(pieces: Iterable[Piece], t: float) -> Occurrence | None:
    """Latest possible moment."""
    return max((piece.latest(t) for piece in counting(pieces, t)), default=None)


def sure_latest(pieces: Iterable[Piece], t: float) -> Occurrence | None:
    """Latest certain moment."""
    return latest([piece for piece in pieces if piece.sure], t)


def first_occurrences(pieces: Iterable[Piece], t: float) -> list[Occurrence]:
    """First moments of the pieces that count."""
    return [(piece.low, 1) for piece in counting(pieces, t)]


def older(one: Occurrence | None, two: Occurrence | None) -> Occurrence | None:
    """Earlier of two moments, if both exist."""
    return None if one is None or two is None else min(one, two)


def extremes(pieces: Iterable[Piece], t: float) -> list[Happening]:
    """Outcomes with none, all, or a single one (whole, its first or its last moment) of the uncertain pieces."""
    present = counting(pieces, t)
    sure = [((piece.low, 1), piece.latest(t)) for piece in present if piece.sure and not piece.once]
    once = [piece for piece in present if piece.once]
    doubt = [((piece.low, 1), piece.latest(t)) for piece in present if not piece.sure]
    choices: list[list[tuple[Occurrence, Occurrence]]] = [[], doubt]
    for first, last in doubt:
        choices += [[(first, last)], [(first, first)], [(last, last)]]
    found: list[Happening] = []
    for choice, is_late in product(choices, (False, True)):
        times = [piece.high if is_late else piece.low for piece in once]
        spans = sure + choice + [((time, 1), (time, 1)) for time in times]
        found.append((min(f for f, _ in spans), max(last for _, last in spans)) if spans else None)
    return found


def merged(one: Happening, other: Happening) -> Happening:
    """Outcome with the moments of both."""
    if one is None or other is None:
        return other if one is None else one
    return (min(one[0], other[0]), max(one[1], other[1]))


def before(first: Happening, second: Happening) -> bool:
    """Evaluate `before`: the first happened, and no later than the latest of the second (or the second did not)."""
    return first is not None and (second is None or first[0] <= second[1])


def after(first: Happening, second: Happening) -> bool:
    """Evaluate `after`: both happened, and the first's latest is later than the second's."""
    return first is not None and second is not None and first[1] > second[1]


def since(inner: History, t: float, event: Happening) -> Truth:
    """Evaluate `since`: true at every moment from the latest event to t."""
    return event is not None and kleene_and(within(inner, min(event[1][0], t), t))
