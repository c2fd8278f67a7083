"""Time before the monitors began, in a flight that was joined on its way: any event may have happened in it.

An event may have happened at any moment of that time.  So what looks back without a limit is unknown until the event is
seen, or until what it is compared with is:

    time                 join        30          40
    engine      ?         running ...............
    controls    ?         not swept  | swept
    swept after started   unknown    | true            the start was before the join: a sweep after it counts
    seat belt   ?         off                    | on
    on after the join     unknown                | true

Takes: the end of the time that was not watched.  Gives: `UnseenPast`, which adds it to the bounds of an event.
"""

from __future__ import annotations

from collections.abc import Collection
from math import inf

from rules.language.online.call_events import CallEventNode
from rules.language.online.events import ConditionEventNode, EventNode
from rules.language.online.moment_bounds import MomentBounds, TimePoint

_BEFORE_ALL: TimePoint = (-inf, 1)


class UnseenPast:
    """Time before the monitors began; minus infinity where the flight was watched from its beginning.

    `until_s` is its end for signals, `calls_until_s` that for calls, where those made in it are not known; `lossy` are the signals that a link carries: the
    others, such as those of the trip sheet, have no past that could be missed.
    """

    __slots__ = ("calls_until_s", "lossy", "until_s")

    def __init__(self, lossy: Collection[str] = ()) -> None:
        self.lossy = frozenset(lossy)
        self.until_s = self.calls_until_s = -inf

    def end_s(self, event: EventNode) -> float:
        """Give the end of the time in which this event was not watched, minus infinity for none."""
        if isinstance(event, CallEventNode):
            return self.until_s if self.calls_until_s > -inf or event.was_made_at(self.until_s) else -inf
        if self.until_s == -inf or self.lossy.isdisjoint(event.signals):
            return -inf
        return max(self.until_s, event.known_from_s)

    def bounds(self, event: EventNode) -> MomentBounds:
        """Give the bounds of an event, with the moments that it may have had before."""
        bounds, end_s = event.bounds, self.end_s(event)
        if end_s == -inf:
            return bounds
        unseen = (end_s, 0)
        if isinstance(event, CallEventNode) and bounds.sure_last == (end_s, 1):
            # The first record has the calls made so far: they were made, at a moment before it.
            bounds = bounds._replace(sure_last=_BEFORE_ALL)
        return bounds._replace(
            possible_first=_BEFORE_ALL,
            possible_last=max(bounds.possible_last, unseen),
            likely_first=_BEFORE_ALL,
            likely_last=max(bounds.likely_last, unseen),
        )

    def reference_bounds(self, event: EventNode) -> MomentBounds:
        """Give the bounds of an event after which another one is awaited.

        What is true when the watching begins became true before, at a moment that is not known: an aeroplane whose
        engines run has been started.
        """
        bounds = self.bounds(event)
        if self.end_s(event) == -inf or not isinstance(event, ConditionEventNode) or not event.began_true:
            return bounds
        began: TimePoint = (event.first_known_s, 1)
        return bounds._replace(
            sure_first=min(bounds.sure_first, began),
            sure_last=max(bounds.sure_last, _BEFORE_ALL),
            possible_last=max(bounds.possible_last, began),
            likely_last=max(bounds.likely_last, began),
        )


WATCHED = UnseenPast()
"""For what counts only as it was seen, such as the conditions of gates."""
