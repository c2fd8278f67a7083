"""Truth of a condition by its visible parts.

A simulator that never sends a signal, and a crew of whom nobody enters calls, leave parts of a condition unknown for good.
Such a part is hidden.  By the visible parts a condition is true only where these make it so; a hidden part makes nothing
true, neither as it stands nor under `not`.

    call.approach_clearance happened or flight.height < 4000 ft       the call         height      truth      visible truth
                                                                      nobody calls     6 000 ft    unknown    false
                                                                      nobody calls     3 000 ft    true       true
                                                                      nobody calls     stale       unknown    unknown

What is unknown for a time only (stale, in a gap, not observed for long enough) is not hidden.

Takes: conditions, the monitors and the state.  Gives: `VisibleTruth`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rules.judge.context import JudgeContext
from rules.language import checked_tree as c
from rules.language.truth import Truth
from rules.packs.condition_facts import calls_awaited, signals_read
from rules.signals.model import Quality


class VisibleTruth(NamedTuple):
    """Truth by the visible parts; `hidden` are the parts that were hidden where it is not known without them."""

    truth: Truth
    hidden: frozenset[c.Condition] = frozenset()


class VisibleParts:
    """Evaluates conditions that the monitors have, by their visible parts."""

    def __init__(self, context: JudgeContext) -> None:
        self._context = context

    def truth(self, condition: c.Condition) -> VisibleTruth:
        """Give the truth of a condition; where it is known there is nothing to leave out."""
        known = self._context.monitors.truth_as_seen(condition)
        if known is not None:
            return VisibleTruth(known)
        hidden: set[c.Condition] = set()
        truth = self._evaluate(condition, False, hidden)  # noqa: FBT003 - a truth
        return VisibleTruth(truth, frozenset(hidden))

    def is_hidden(self, part: c.Condition) -> bool:
        """True if a part is unknown for good, as far as anybody can see now."""
        if self._context.monitors.truth_as_seen(part) is not None:
            return False
        if isinstance(part, c.FaultyCondition) or self.awaits_unmade_call(part):
            return True
        absent = [self._context.state.sample(name).quality is Quality.ABSENT for name in signals_read(part)]
        # A comparison is unknown with one of its signals; what looks back may be unknown for another reason.
        return any(absent) if isinstance(part, c.Predicate) else bool(absent) and all(absent)

    def awaits_unmade_call(self, part: c.Condition) -> bool:
        """True if a part waits for a call of a speaker whose calls are not known to be entered."""
        return not all(map(self._context.monitors.is_call_known, calls_awaited(part)))

    def _evaluate(self, condition: c.Condition, assumed: bool, hidden: set[c.Condition]) -> Truth:  # noqa: FBT001 - a truth, not a switch
        """Truth with each hidden part as `assumed`: False, and True under `not`."""
        known = self._context.monitors.truth_as_seen(condition)
        if known is not None:
            return known
        if isinstance(condition, c.Estimate):
            return assumed if self._show_nothing((*condition.yes, *condition.no), hidden) else None
        return self._evaluate_form(condition, assumed, hidden)

    def _evaluate_form(self, condition: c.Condition, assumed: bool, hidden: set[c.Condition]) -> Truth:  # noqa: FBT001 - a truth, not a switch
        """Truth of an unknown condition that is no estimate, by its form."""
        match condition:
            case c.And(parts=parts):
                return _all([self._evaluate(part, assumed, hidden) for part in parts])
            case c.Or(parts=parts):
                return _any([self._evaluate(part, assumed, hidden) for part in parts])
            case c.Not(part=part):
                return _negated(self._evaluate(part, not assumed, hidden))
            case c.Implies(when=when, then=then):
                return _any(
                    [
                        _negated(self._evaluate(when, not assumed, hidden)),
                        self._evaluate(then, assumed, hidden),
                    ]
                )
            case c.Unless(part=part):
                # Its excuse is not known to be true, or it would be known.
                return self._evaluate(part, assumed, hidden)
            case c.NumberOf(parts=parts, least=least, most=most):
                enough = _at_least(least, [self._evaluate(part, assumed, hidden) for part in parts])
                too_many = _at_least(most + 1, [self._evaluate(part, not assumed, hidden) for part in parts])
                return _all([enough, _negated(too_many)])
            case c.TimedHistorically(part=part) if self._evaluate(part, assumed, hidden) is False:
                return False
        if not self.is_hidden(condition):
            return None
        hidden.add(condition)
        return assumed

    def _show_nothing(self, parts: Sequence[c.Condition | None], hidden: set[c.Condition]) -> bool:
        """True if every source of an estimate is hidden: it is unknown for good, and not only in doubt."""
        for part in parts:
            of_part: set[c.Condition] = set()
            if part is not None and (self._evaluate(part, False, of_part) is None or not of_part):  # noqa: FBT003 - a truth
                return False
            hidden |= of_part
        return True


def _negated(truth: Truth) -> Truth:
    """Kleene's not."""
    return None if truth is None else not truth


def _all(truths: Sequence[Truth]) -> Truth:
    """Kleene's and."""
    return False if False in truths else None if None in truths else True


def _any(truths: Sequence[Truth]) -> Truth:
    """Kleene's or."""
    return True if True in truths else None if None in truths else False


def _at_least(number: int, truths: Sequence[Truth]) -> Truth:
    """Truth of: so many of these are true."""
    certain = truths.count(True)
    return True if certain >= number else None if certain + truths.count(None) >= number else False
