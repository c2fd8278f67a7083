"""Nodes with a truth: comparisons, logical operators and operators of time.

Takes: the nodes or events that they depend on.  Gives: nodes whose truth follows these and the clock.
"""

from __future__ import annotations

from math import inf

from rules.language.online.closures import Decider
from rules.language.online.events import EventNode
from rules.language.online.moment_bounds import is_after, is_before
from rules.language.online.runs import RunTracker, ValueRun
from rules.language.online.scheduler import CountingNode, MonitorNode, Scheduler
from rules.language.online.unseen_past import UnseenPast
from rules.language.truth import Truth


class PredicateNode(MonitorNode):
    """A comparison of present values."""

    __slots__ = ("decide",)

    def __init__(self, decide: Decider, children: tuple[MonitorNode, ...] = ()) -> None:
        super().__init__(*children)
        self.decide = decide

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002 - depends on the present values only
        """Evaluate the comparison; True where the truth changed."""
        return self.set_truth(self.decide())

    def set_truth(self, truth: Truth) -> bool:
        """Set the truth; True where it changed."""
        if truth is self.truth:
            return False
        self.truth = truth
        return True


class ExternalNode(MonitorNode):
    """Truth that is set from outside, or that of another node until it is set."""

    __slots__ = ("_external_truth", "_is_set", "_source")

    def __init__(self, source: MonitorNode | None) -> None:
        super().__init__(*([source] if source else []))
        self._source = source
        self._is_set = False
        self._external_truth: Truth = None

    def set_external(self, truth: Truth) -> None:
        """Set the truth; from now on the source does not count."""
        self._is_set, self._external_truth = True, truth

    def clear_external(self) -> None:
        """Follow the source again."""
        self._is_set = False

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Use the truth set from outside, else the source's."""
        truth = self._external_truth if self._is_set or self._source is None else self._source.truth
        changed = truth is not self.truth
        self.truth = truth
        return changed


class AndOrNode(CountingNode):
    """Kleene's `and` (one false decides) or `or` (one true decides), by counting.

    Counting makes a change of one part cost the same for two parts and for two hundred.
    """

    __slots__ = ("_deciding", "_deciding_count", "_unknown_count")

    def __init__(self, parts: tuple[MonitorNode, ...], *, deciding: bool) -> None:
        super().__init__(*parts)
        self._deciding = deciding
        self._deciding_count = 0
        self._unknown_count = len(parts)
        for part in parts:
            part.counting_parents.append(self)

    def child_changed(self, old: Truth, new: Truth) -> None:
        """Update the counts for the change of one part."""
        self._unknown_count += (new is None) - (old is None)
        self._deciding_count += (new is self._deciding) - (old is self._deciding)

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Evaluate from the counts; True where the truth changed."""
        old = self.truth
        if self._deciding_count:
            self.truth = self._deciding
        else:
            self.truth = None if self._unknown_count else not self._deciding
        return old is not self.truth


class NumberOfNode(CountingNode):
    """True where from `least` to `most` parts are true, whatever the unknown ones are."""

    __slots__ = ("_least", "_most", "_true_count", "_unknown_count")

    def __init__(self, parts: tuple[MonitorNode, ...], least: int, most: int) -> None:
        super().__init__(*parts)
        self._least, self._most = least, most
        self._true_count = 0
        self._unknown_count = len(parts)
        for part in parts:
            part.counting_parents.append(self)

    def child_changed(self, old: Truth, new: Truth) -> None:
        """Update the counts for the change of one part."""
        self._unknown_count += (new is None) - (old is None)
        self._true_count += (new is True) - (old is True)

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Evaluate from the counts; True where the truth changed."""
        old, fewest, greatest = self.truth, self._true_count, self._true_count + self._unknown_count
        if fewest >= self._least and greatest <= self._most:
            self.truth = True
        else:
            self.truth = False if fewest > self._most or greatest < self._least else None
        return old is not self.truth


class NotNode(MonitorNode):
    """Kleene's not."""

    __slots__ = ("_part",)

    def __init__(self, part: MonitorNode) -> None:
        super().__init__(part)
        self._part = part

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Negate the part's truth."""
        old, part = self.truth, self._part.truth
        self.truth = None if part is None else not part
        return old is not self.truth


class KnownTrueNode(MonitorNode):
    """True where its part is true; false where the part is false or unknown."""

    __slots__ = ("_part",)

    def __init__(self, part: MonitorNode) -> None:
        super().__init__(part)
        self._part = part

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Take over the part's truth, unknown as false."""
        old = self.truth
        self.truth = self._part.truth is True
        return old is not self.truth


class EstimateNode(MonitorNode):
    """Truth by the first source that shows yes or no; a source that shows both leaves it unknown."""

    __slots__ = ("_sources",)

    def __init__(self, sources: tuple[tuple[MonitorNode | None, MonitorNode | None], ...]) -> None:
        super().__init__(*(node for source in sources for node in source if node is not None))
        self._sources = sources

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Ask the sources in their order."""
        old, self.truth = self.truth, None
        for yes, no in self._sources:
            shows_yes, shows_no = (node is not None and node.truth is True for node in (yes, no))
            if shows_yes or shows_no:
                self.truth = None if shows_yes and shows_no else shows_yes
                break
        return old is not self.truth


class TimedHistoricallyNode(MonitorNode):
    """True without a break for `span_s`."""

    __slots__ = ("_false_until_s", "_part", "_scheduler", "_span_s", "track")

    def __init__(self, scheduler: Scheduler, part: MonitorNode, span_s: float) -> None:
        super().__init__(part)
        self._scheduler = scheduler
        self._part = part
        self._span_s = span_s
        self.track: RunTracker[bool] = RunTracker(scheduler)
        self._false_until_s = -inf

    def refresh(self, now_s: float) -> bool:
        """Evaluate at the present time."""
        part = self._part.truth
        if part is not self.track.run.value:
            ended = self.track.update(part)
            if ended is not None and ended.value is False:
                self._false_until_s = now_s
        old = self.truth
        self.truth = self._truth_at(part, now_s)
        return old is not self.truth

    def _truth_at(self, part: Truth, now_s: float) -> Truth:
        if part is False:
            return False
        false_end_s, true_s = self._false_until_s + self._span_s, self.track.run.start_s + self._span_s
        if part and true_s <= now_s:
            return True
        self._scheduler.wake_at(self, true_s if part else inf)
        self._scheduler.wake_at(self, false_end_s)
        return False if now_s < false_end_s else None


class OnceNode(MonitorNode):
    """True where the event has happened."""

    __slots__ = ("_assumes", "_event", "_past")

    def __init__(self, event: EventNode, assumes: Truth, past: UnseenPast) -> None:
        super().__init__(event)
        self._past = past
        self._assumes = assumes
        self._event = event

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Evaluate: unknown where it may have happened."""
        old, bounds = self.truth, self._past.bounds(self._event)
        if self._assumes is False:
            bounds = bounds.likely
        self.truth = True if bounds.has_happened else (None if bounds.may_have_happened else False)
        return old is not self.truth


class TimedOnceNode(MonitorNode):
    """True where the event happened in (now - span, now]."""

    __slots__ = ("_event", "_scheduler", "_span_s")

    def __init__(self, scheduler: Scheduler, event: EventNode, span_s: float) -> None:
        super().__init__(event)
        self._scheduler = scheduler
        self._event = event
        self._span_s = span_s

    def refresh(self, now_s: float) -> bool:
        """Evaluate: unknown where it may have happened in the span."""
        old, bounds = self.truth, self._event.bounds
        sure_end_s, doubt_end_s = bounds.sure_last[0] + self._span_s, bounds.last_doubtful_s + self._span_s
        self.truth = True if now_s < sure_end_s else (None if now_s < doubt_end_s else False)
        self._scheduler.wake_at(self, sure_end_s)
        self._scheduler.wake_at(self, doubt_end_s)
        return old is not self.truth


class BeforeAfterNode(MonitorNode):
    """True where one event happened before or after another."""

    __slots__ = ("_assumes", "_first", "_past", "_rule", "_second", "_second_bounds")

    def __init__(
        self, first: EventNode, relation: str, second: EventNode, assumes: Truth, past: UnseenPast
    ) -> None:
        super().__init__(first, second)
        self._assumes = assumes
        self._first, self._second = first, second
        self._past, before = past, relation == "before"
        self._rule = is_before if before else is_after
        self._second_bounds = past.bounds if before else past.reference_bounds

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Compare the bounds of the two events."""
        old, first, second = self.truth, self._past.bounds(self._first), self._second_bounds(self._second)
        self.truth = self._rule(first, second)
        if self.truth is None and self._assumes is not None:
            assumed = self._rule(first.likely, second.likely)
            self.truth = assumed if assumed is self._assumes else None
        return old is not self.truth


class SinceNode(MonitorNode):
    """True at every moment from the latest event until now."""

    __slots__ = ("_assumes", "_event", "_false_until_s", "_part", "_past", "_track")

    def __init__(
        self, scheduler: Scheduler, part: MonitorNode, event: EventNode, assumes: Truth, past: UnseenPast
    ) -> None:
        super().__init__(part, event)
        self._past = past
        self._assumes = assumes
        self._part = part
        self._event = event
        self._track: RunTracker[bool] = RunTracker(scheduler)
        self._false_until_s = -inf

    def refresh(self, now_s: float) -> bool:
        """Compare the part's present run with the event's latest moments."""
        part = self._part.truth
        if part is not self._track.run.value:
            ended = self._track.update(part)
            if ended is not None and ended.value is False:
                self._false_until_s = now_s
        old = self.truth
        self.truth = self._truth_of_run(self._track.run)
        return old is not self.truth

    def _truth_of_run(self, run: ValueRun[bool]) -> Truth:
        bounds = self._past.bounds(self._event)
        bounds = bounds if self._assumes is not False else bounds.likely
        if run.value and bounds.has_happened and run.start_s <= bounds.sure_last[0]:
            return True
        if (
            run.value is not False
            and bounds.may_have_happened
            and self._false_until_s <= bounds.possible_last[0]
        ):
            return None
        return False
