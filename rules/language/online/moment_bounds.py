"""Bounds of the moments of an event, and the order of two events within their bounds.

Data may be missing when an event happens, so each event has bounds.  A rise of `p`, with unknown truth (?) between:

    time    0     5     10    15    20
    p       false | ?   | true  | false | true
    rises                               ^ certain at 20
                  one certain from 5 to 10, more possible

certain: first at 10 at the latest, last 20.  possible: first 5, last 20.  `A before B` is true if it is true for every
choice of possible moments, false if it is false for every choice, and unknown otherwise.

Takes: moments.  Gives: `MomentBounds`, `is_before`, `is_after`.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple, TypeAlias

from rules.language.truth import Truth

TimePoint: TypeAlias = tuple[float, int]
"""Moment (time, 1), or (time, 0) for "just before that time": the last moment of a condition that ends then."""

NO_FIRST: TimePoint = (inf, 0)
NO_LAST: TimePoint = (-inf, 0)
NOW: TimePoint = (inf, 1)
"""Latest moment of a condition that is still true; later than every moment in the past."""


class MomentBounds(NamedTuple):
    """First and latest moments: the certain ones, the likely ones and the possible ones; each include those before.

    Likely are all possible ones but those in a bridged gap (`ValueRun.bridges`).
    `last_doubtful_s` is the latest possible but uncertain moment; it also counts those before the data began, which
    `possible_first` and `possible_last` leave out once all data has been seen.
    """

    sure_first: TimePoint = NO_FIRST
    sure_last: TimePoint = NO_LAST
    possible_first: TimePoint = NO_FIRST
    possible_last: TimePoint = NO_LAST
    last_doubtful_s: float = -inf
    likely_first: TimePoint = NO_FIRST
    likely_last: TimePoint = NO_LAST

    @property
    def likely(self) -> MomentBounds:
        """These bounds, with the likely moments as the possible ones."""
        return self._replace(possible_first=self.likely_first, possible_last=self.likely_last)

    @property
    def has_happened(self) -> bool:
        """True where it has certainly happened."""
        return self.sure_last != NO_LAST

    @property
    def may_have_happened(self) -> bool:
        """True where it has happened or may have."""
        return self.possible_last != NO_LAST

    def with_sure(self, first: TimePoint, last: TimePoint) -> MomentBounds:
        """Add certain moments.

        Of one moment at an unknown time, `first` is the latest that it can be, and `last` the earliest.
        """
        return MomentBounds(
            min(first, self.sure_first),
            max(last, self.sure_last),
            min(first, self.possible_first),
            max(last, self.possible_last),
            self.last_doubtful_s,
            min(first, self.likely_first),
            max(last, self.likely_last),
        )

    def with_doubtful(
        self, first: TimePoint, last: TimePoint, data_start_s: float, *, likely: bool = True
    ) -> MomentBounds:
        """Add possible moments; those before the data began count only for `last_doubtful_s`."""
        bounds = self._replace(last_doubtful_s=max(last[0], self.last_doubtful_s))
        start: TimePoint = (data_start_s, 1)
        if last < start:
            return bounds
        if likely:
            bounds = bounds.with_likely(first, last, data_start_s)
        return bounds._replace(
            possible_first=min(max(first, start), self.possible_first),
            possible_last=max(last, self.possible_last),
        )

    def with_likely(self, first: TimePoint, last: TimePoint, data_start_s: float) -> MomentBounds:
        """Make possible moments likely, except those before the data began."""
        start: TimePoint = (data_start_s, 1)
        if last < start:
            return self
        return self._replace(
            likely_first=min(max(first, start), self.likely_first), likely_last=max(last, self.likely_last)
        )


def is_before(first: MomentBounds, second: MomentBounds) -> Truth:
    """Evaluate `first before second`: first has happened, and not only after the latest second.

    True for every choice of the possible moments, False for none, else None:

        first     x
        second         x      true
        first          x
        second    x           false: first is only after
        first          x
        second    x        x  true: before the latest second
        first          x
        second    [- ? -]     unknown: second may be earlier or later
    """
    if not first.may_have_happened or (second.has_happened and first.possible_first > second.possible_last):
        return False
    latest = second.sure_last if second.has_happened else second.possible_first
    if first.has_happened and (not second.may_have_happened or first.sure_first <= latest):
        return True
    return None


def is_after(first: MomentBounds, second: MomentBounds) -> Truth:
    """Evaluate `first after second`: both have happened, and the latest first is later than the latest second."""
    earliest = second.sure_last if second.has_happened else second.possible_first
    if not (first.may_have_happened and second.may_have_happened and first.possible_last > earliest):
        return False
    return (
        True
        if first.has_happened and second.has_happened and first.sure_last > second.possible_last
        else None
    )
