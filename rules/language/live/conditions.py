"""The nodes that give a truth: comparisons, and, or, if, not, and the words about time.

Takes: nodes or events that they depend on.  Gives: nodes whose truth follows them and the clock.
"""

from __future__ import annotations

from math import inf

from rules.language.live.agenda import Agenda, Counter, Node
from rules.language.live.moments import Moments, followed, ordered
from rules.language.live.terms import Decider
from rules.language.live.track import Run, Track
from rules.language.truth import Truth


class AtomNode(Node):
    """A comparison of present values."""

    __slots__ = ("decide",)

    def __init__(self, decide: Decider, children: tuple[Node, ...] = ()) -> None:
        super().__init__(*children)
        self.decide = decide

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002 - the present values say it all
        """Compare; True where the truth changed."""
        return self.become(self.decide())

    def become(self, truth: Truth) -> bool:
        """Take this truth; True where it changed."""
        if truth is self.truth:
            return False
        self.truth = truth
        return True


class ExternalNode(Node):
    """A truth that is told from outside, or that of another node while nothing is told."""

    __slots__ = ("_source", "_told", "_told_truth")

    def __init__(self, source: Node | None) -> None:
        super().__init__(*([source] if source else []))
        self._source = source
        self._told = False
        self._told_truth: Truth = None

    def tell_truth(self, truth: Truth) -> None:
        """From now on it is this, whatever the source says."""
        self._told, self._told_truth = True, truth

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Take what was told, else the source's."""
        truth = self._told_truth if self._told or self._source is None else self._source.truth
        changed = truth is not self.truth
        self.truth = truth
        return changed


class DecidedNode(Counter):
    """`and` (one false decides) or `or` (one true decides), by counting."""

    __slots__ = ("_decided", "_deciding", "_unknown")

    def __init__(self, parts: tuple[Node, ...], *, deciding: bool) -> None:
        super().__init__(*parts)
        self._deciding = deciding
        self._decided = 0
        self._unknown = len(parts)
        for part in parts:
            part.counters.append(self)

    def tell(self, old: Truth, new: Truth) -> None:
        """Count one part over."""
        self._unknown += (new is None) - (old is None)
        self._decided += (new is self._deciding) - (old is self._deciding)

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Kleene's and, or or; True where it changed."""
        old = self.truth
        if self._decided:
            self.truth = self._deciding
        else:
            self.truth = None if self._unknown else not self._deciding
        return old is not self.truth


class OppositeNode(Node):
    """Kleene's not."""

    __slots__ = ("_part",)

    def __init__(self, part: Node) -> None:
        super().__init__(part)
        self._part = part

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Turn the part round."""
        old, part = self.truth, self._part.truth
        self.truth = None if part is None else not part
        return old is not self.truth


class HeldNode(Node):
    """True without a break for `span_s`."""

    __slots__ = ("_agenda", "_false_until_s", "_part", "_span_s", "track")

    def __init__(self, agenda: Agenda, part: Node, span_s: float) -> None:
        super().__init__(part)
        self._agenda = agenda
        self._part = part
        self._span_s = span_s
        self.track: Track[bool] = Track(agenda)
        self._false_until_s = -inf

    def refresh(self, now_s: float) -> bool:
        """Take the part's truth and the time."""
        part = self._part.truth
        if part is not self.track.run.value:
            ended = self.track.feed(part)
            if ended is not None and ended.value is False:
                self._false_until_s = now_s
        old = self.truth
        self.truth = self._now(part, now_s)
        return old is not self.truth

    def _now(self, part: Truth, now_s: float) -> Truth:
        if part is False:
            return False
        false_end_s, true_s = self._false_until_s + self._span_s, self.track.run.start_s + self._span_s
        if part and true_s <= now_s:
            return True
        self._agenda.wake(self, true_s if part else inf)
        self._agenda.wake(self, false_end_s)
        return False if now_s < false_end_s else None


class OccurredNode(Node):
    """The event has happened."""

    __slots__ = ("_event",)

    def __init__(self, event: Moments) -> None:
        super().__init__(event)
        self._event = event

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """True, or unknown where it only may have."""
        old, marks = self.truth, self._event.marks
        self.truth = True if marks.sure else (None if marks.possible else False)
        return old is not self.truth


class RecentNode(Node):
    """The event happened in (now - span, now]."""

    __slots__ = ("_agenda", "_event", "_span_s")

    def __init__(self, agenda: Agenda, event: Moments, span_s: float) -> None:
        super().__init__(event)
        self._agenda = agenda
        self._event = event
        self._span_s = span_s

    def refresh(self, now_s: float) -> bool:
        """True, or unknown where it only may have."""
        old, marks = self.truth, self._event.marks
        sure_end_s, doubt_end_s = marks.sure_last[0] + self._span_s, marks.doubt_s + self._span_s
        self.truth = True if now_s < sure_end_s else (None if now_s < doubt_end_s else False)
        self._agenda.wake(self, sure_end_s)
        self._agenda.wake(self, doubt_end_s)
        return old is not self.truth


class OrderNode(Node):
    """One event before or after another."""

    __slots__ = ("_first", "_rule", "_second")

    def __init__(self, first: Moments, relation: str, second: Moments) -> None:
        super().__init__(first, second)
        self._first, self._second = first, second
        self._rule = ordered if relation == "before" else followed

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002
        """Compare the marks."""
        old = self.truth
        self.truth = self._rule(self._first.marks, self._second.marks)
        return old is not self.truth


class SinceNode(Node):
    """True at every moment from the latest event until now."""

    __slots__ = ("_event", "_false_until_s", "_part", "_track")

    def __init__(self, agenda: Agenda, part: Node, event: Moments) -> None:
        super().__init__(part, event)
        self._part = part
        self._event = event
        self._track: Track[bool] = Track(agenda)
        self._false_until_s = -inf

    def refresh(self, now_s: float) -> bool:
        """Set the part's run against the event's latest moments."""
        part = self._part.truth
        if part is not self._track.run.value:
            ended = self._track.feed(part)
            if ended is not None and ended.value is False:
                self._false_until_s = now_s
        old = self.truth
        self.truth = self._now(self._track.run)
        return old is not self.truth

    def _now(self, run: Run[bool]) -> Truth:
        marks = self._event.marks
        if run.value and marks.sure and run.start_s <= marks.sure_last[0]:
            return True
        if run.value is not False and marks.possible and self._false_until_s <= marks.may_last[0]:
            return None
        return False
