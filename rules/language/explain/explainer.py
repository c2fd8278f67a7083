"""Explanation of conditions with logic and time, from the reasons of their parts.

Takes: a checked condition and a view of the present values.  Gives: `Reason`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import ClassVar, TypeAlias

from rules.language import checked_tree
from rules.language.checked_tree import Condition, Predicate
from rules.language.deadline import fulfilment, in_time
from rules.language.explain.clauses import (
    clause,
    deadline_text,
    number_text,
    past_clause,
    perfect_clause,
)
from rules.language.explain.predicates import MonitorView, PredicateExplainer, gap_reason, missing_data
from rules.language.explain.signal_names import LABELS, SignalNames
from rules.language.traversal import look_back_s, looks_back_without_limit, signals_in
from rules.language.truth import Reason, Truth
from rules.signals.model import Signal
from rules.signals.number_format import format_distinct, format_value
from rules.words import join_and

_JUST_NOW_S = 1.0
"""What has been so for less time than this is so "only just", in seconds; nobody hears the difference of fractions."""

ReasonMethod: TypeAlias = Callable[..., Reason]


def explain(condition: Condition, view: MonitorView, names: SignalNames = LABELS) -> Reason:
    """Explain a condition's present truth.

    Args:
        condition: A condition that the view evaluates.
        view: An evaluator at the present moment.
        names: Names of the signals in sentences.

    Returns:
        The failing parts where it is false, the unknown parts where it is unknown, the facts where it is true.
    """
    return _Explainer(view, names).explain(condition, want=True)


class _Explainer:
    """Explains conditions; `want` is the wanted truth: a `not` reverses it, and the truth of the reason with it."""

    def __init__(self, view: MonitorView, names: SignalNames) -> None:
        self._view = view
        self._names = names
        self._predicates = PredicateExplainer(view, names)

    def explain(self, condition: Condition, *, want: bool) -> Reason:
        """Explain the condition by the wanted truth."""
        if isinstance(condition, Predicate):
            return self._predicates.explain(condition, want=want)
        return self.METHODS[type(condition)](self, condition, want=want)

    def _explain_as_is(self, condition: Condition) -> Reason:
        """Describe the present fact, without the wanted value."""
        return self.explain(condition, want=self._view.truth_of(condition) is not False)

    # -- and, or, not, if -----------------------------------------------------------------------

    def _and(self, condition: checked_tree.And, *, want: bool) -> Reason:
        return self._combine_parts(condition.parts, want=want, every=want)

    def _or(self, condition: checked_tree.Or, *, want: bool) -> Reason:
        return self._combine_parts(condition.parts, want=want, every=not want)

    def _not(self, condition: checked_tree.Not, *, want: bool) -> Reason:
        return self.explain(condition.part, want=not want)

    def _combine_parts(self, parts: Sequence[Condition], *, want: bool, every: bool) -> Reason:
        reasons = [self.explain(part, want=want) for part in parts]
        truth = _kleene([reason.truth for reason in reasons], every=every)
        deciding = [reason for reason in reasons if reason.truth is truth]
        joined = _join_reasons(truth, deciding, "; ")
        if truth is not False or every or len(parts) < 2:
            return joined
        return replace(joined, sentence=self._none_of(parts, joined, want=want))

    def _none_of(self, parts: Sequence[Condition], reason: Reason, *, want: bool) -> str:
        """Describe by plain facts that no alternative is met: their demands in one sentence would read as a single one."""
        facts = list(dict.fromkeys(self.explain(part, want=not want).sentence for part in parts))
        return f"{facts[0]}, needs {reason.wanted}" if len(facts) == 1 and reason.wanted else join_and(facts)

    def _number_of(self, condition: checked_tree.NumberOf, *, want: bool) -> Reason:
        truth, wanted = self._view.truth_of(condition), number_text(condition, want=want)
        reasons = [self._explain_as_is(part) for part in condition.parts]
        truths = [self._view.truth_of(part) for part in condition.parts]
        if truth is None:
            unknown = [reason for reason, of_part in zip(reasons, truths, strict=True) if of_part is None]
            return _join_reasons(None, unknown, "; ")
        number = truths.count(True)
        too_few = number < condition.least
        shown = [reason for reason, of_part in zip(reasons, truths, strict=True) if of_part is (not too_few)]
        count = f"{number} of {len(truths)}"
        sentence = (
            f"{'; '.join(reason.sentence for reason in shown)}: {count}"
            if shown
            else f"{count} ({clause(condition.parts[0])}, ...)"
        )
        signals = tuple(dict.fromkeys(name for reason in shown or reasons for name in reason.signals))
        met = truth is want
        sentence = sentence if met else f"{sentence}, needs {wanted}"
        return Reason(met, sentence, count, wanted, signals, tuple(reasons))

    def _implies(self, condition: checked_tree.Implies, *, want: bool) -> Reason:
        when = self._view.truth_of(condition.when)
        if not want:
            return self._combine_parts(
                (condition.when, checked_tree.Not(condition.then)), want=True, every=True
            )
        then = self.explain(condition.then, want=True)
        if then.truth is True and when is not False:
            return then
        cause = self._explain_as_is(condition.when)
        if when is False:
            sentence = f"does not apply: {cause.sentence}"
            return Reason(not when, sentence, signals=cause.signals, parts=(cause,))
        if when is None:
            sentence = f"not known whether it applies: {cause.sentence}"
            return Reason(None, sentence, then.actual, then.wanted, cause.signals, (cause,))
        sentence = f"{then.sentence}, while {cause.sentence}"
        return Reason(then.truth, sentence, then.actual, then.wanted, then.signals, (then, cause))

    def _unless(self, condition: checked_tree.Unless, *, want: bool) -> Reason:
        part = self.explain(condition.part, want=want)
        if self._view.truth_of(condition.part) is True or self._view.truth_of(condition.excuse) is not True:
            return part
        cause = self._explain_as_is(condition.excuse)
        sentence = f"does not apply: {cause.sentence}"
        return _negated(
            Reason(truth=True, sentence=sentence, signals=cause.signals, parts=(cause,)), want=want
        )

    # -- time -----------------------------------------------------------------------------------

    def _timed_historically(self, condition: checked_tree.TimedHistorically, *, want: bool) -> Reason:
        truth, holds = self._view.truth_of(condition), self._view.truth_of(condition.part) is True
        inner = self.explain(condition.part, want=True) if want else self._explain_as_is(condition.part)
        sentence, actual, wanted = inner.sentence, inner.actual, inner.wanted
        span, left_s = format_value(condition.seconds, "s"), 0.0
        if truth is True or inner.truth is False:
            # What is false is wrong now; for how long it must be true is for the record.
            sentence = f"{sentence} for {span}" if truth is True or not want else sentence
            wanted = f"{wanted} for {span}" if wanted else ""
        elif holds:
            held_s = self._view.true_for_s(condition)
            left_s = condition.seconds - held_s
            actual, wanted = format_distinct(held_s, condition.seconds, "s")
            since = "only just" if held_s < _JUST_NOW_S else f"only for {actual}"
            sentence = f"{sentence}, but {since}" if want else f"{sentence} for {actual}"
        gap = self._gap(condition) if truth is None and inner.truth is not None else None
        if gap is not None:
            sentence = f"{sentence}; {gap.sentence}"
        reason = Reason(
            truth,
            sentence,
            actual,
            wanted,
            inner.signals,
            (inner,),
            in_gap=gap is not None,
            passes=gap is not None and gap.passes,
            holding=want and truth is not True and holds and gap is None,
            left_s=left_s,
        )
        return _negated(reason, want=want)

    def _once(self, condition: checked_tree.Once, *, want: bool) -> Reason:
        truth = self._view.truth_of(condition)
        if truth is None:
            return self._unknown(past_clause(condition.event), condition)
        sentence = perfect_clause(condition.event, happened=truth)
        return _negated(
            self._event_reason(truth, sentence, condition.event, past_clause(condition.event)),
            want=want,
        )

    def _timed_once(self, condition: checked_tree.TimedOnce, *, want: bool) -> Reason:
        truth, within = self._view.truth_of(condition), f"in the last {format_value(condition.seconds, 's')}"
        if truth is None:
            return self._unknown(f"{past_clause(condition.event)} {within}", condition)
        sentence = f"{perfect_clause(condition.event, happened=truth)} {within}"
        wanted = f"{past_clause(condition.event)} {within}"
        return _negated(self._event_reason(truth, sentence, condition.event, wanted), want=want)

    def _before_after(self, condition: checked_tree.BeforeAfter, *, want: bool) -> Reason:
        truth, first, second = self._view.truth_of(condition), condition.first, condition.second
        signals = signals_in(first, second)
        if truth is None:
            claim = f"{past_clause(first)} {condition.relation} {past_clause(second)}"
            return self._unknown(claim, condition)
        missing = [e for e in (first, second) if self._view.happened(e) is False]
        if truth:
            only = condition.relation == "before" and bool(missing)
            sentence = (
                past_clause(first)
                if only
                else f"{past_clause(first)} {condition.relation} {past_clause(second)}"
            )
        elif missing and (missing[0] is first or condition.relation == "after"):
            sentence = perfect_clause(missing[0], happened=False)
        else:
            link = "only after" if condition.relation == "before" else "but not after"
            sentence = f"{past_clause(first)} {link} {past_clause(second)}"
        wanted = f"{past_clause(first)} {condition.relation} {past_clause(second)}"
        return _negated(Reason(truth, sentence, sentence, wanted, _signal_names(signals)), want=want)

    def _since(self, condition: checked_tree.Since, *, want: bool) -> Reason:
        truth, part = self._view.truth_of(condition), self._view.truth_of(condition.part)
        event, since = condition.event, f"since {past_clause(condition.event)}"
        inner = self.explain(condition.part, want=True)
        if truth is None:
            return inner if part is None else self._unknown(f"{clause(condition.part)} {since}", condition)
        if truth:
            sentence = f"{inner.sentence} {since}"
        elif self._view.happened(event) is False:
            sentence = perfect_clause(event, happened=False)
        elif part is False:
            sentence = f"{inner.sentence} {since}"
        else:
            sentence = f"{inner.sentence}, but not all the time {since}"
        return _negated(
            Reason(truth, sentence, inner.actual, inner.wanted, inner.signals, (inner,)), want=want
        )

    def _deadline(self, condition: checked_tree.Deadline, *, want: bool) -> Reason:
        truth, part = self._view.truth_of(condition), condition.part
        if truth is None:
            return self._unknown(clause(condition), condition)
        if isinstance(part, checked_tree.Event):
            sentence = past_clause(part) if truth else perfect_clause(part, happened=False)
            awaited = self._event_reason(truth, sentence, part, past_clause(part))
        else:
            awaited = self.explain(part, want=True)
        sentence = self._deadline_sentence(condition, awaited.sentence, kept=truth)
        signals = _signal_names(signals_in(condition))
        reason = Reason(truth, sentence, awaited.actual, clause(condition), signals, (awaited,))
        return _negated(reason, want=want)

    def _deadline_sentence(self, condition: checked_tree.Deadline, awaited: str, *, kept: bool) -> str:
        """Describe what is overdue, or why nothing is."""
        event, span = condition.event, format_value(condition.seconds, "s")
        if not kept:
            return f"{awaited} {deadline_text(condition)}"
        if self._view.happened(event) is False:
            return f"does not apply: {perfect_clause(event, happened=False)}"
        if self._view.truth_of(fulfilment(condition)):
            return awaited
        if self._view.truth_of(in_time(condition)):
            return f"there is time: {perfect_clause(event, happened=True)} in the last {span}"
        return clause(condition)

    def _item_met(self, condition: checked_tree.ItemMet, *, want: bool) -> Reason:
        truth, inner = self._view.truth_of(condition), self._view.condition_of(condition.item)
        cause = self.explain(inner, want=True) if inner is not None else None
        because = f": {cause.sentence}" if cause is not None and cause.truth is truth else ""
        parts, signals = ((cause,), cause.signals) if cause is not None else ((), ())
        if truth is None:
            sentence = f"{condition.label} unknown{because}"
            return Reason(None, sentence, "unknown", "met", signals, parts)
        actual = "met" if truth else "not met"
        sentence = f"{condition.label} {actual}{'' if truth else because}"
        return _negated(Reason(truth, sentence, actual, "met", signals, parts), want=want)

    def _estimate(self, condition: checked_tree.Estimate, *, want: bool) -> Reason:
        truth = self._view.truth_of(condition)
        if truth is None:
            return self._unknown(clause(condition), condition)
        pairs = zip(condition.yes, condition.no, strict=True)
        yes, no = next(pair for pair in pairs if any(part and self._view.truth_of(part) for part in pair))
        shown = yes if truth else no
        if shown is None or (yes is not None and no == checked_tree.Not(yes)):
            return self.explain(yes or condition, want=want)
        cause = self.explain(shown, want=True)
        sentence = f"{'' if truth else 'not '}{clause(condition)}: {cause.sentence}"
        return _negated(Reason(truth, sentence, cause.actual, "", cause.signals, (cause,)), want=want)

    def _faulty(self, condition: checked_tree.FaultyCondition, *, want: bool) -> Reason:  # noqa: ARG002 - as all others
        return Reason(None, f"cannot be judged: {condition.fault.what}")

    # -- pieces ---------------------------------------------------------------------------------

    def _event_reason(self, truth: Truth, sentence: str, event: checked_tree.Event, wanted: str) -> Reason:
        """Make the reason of an event, with the wanted event."""
        return Reason(truth, sentence, sentence, wanted, _signal_names(signals_in(event)))

    def _unknown(self, claim: str, condition: Condition) -> Reason:
        """Make the reason for an unknown truth: data missing now, a gap in the look-back, or another time without data."""
        signals = signals_in(condition)
        sentence = f"not known whether {claim}"
        reason = missing_data(signals, self._view, self._names) or self._unwatched(sentence, condition)
        reason = reason or self._gap(condition)
        return reason if reason is not None else Reason(None, sentence, signals=_signal_names(signals))

    def _unwatched(self, sentence: str, condition: Condition) -> Reason | None:
        """Make the reason for a past that was not watched; None where a limit keeps the condition from looking into it."""
        why = self._view.unwatched(condition) if looks_back_without_limit(condition) else ""
        signals = _signal_names(signals_in(condition))
        return Reason(None, f"{sentence}: {why}", "unknown", "", signals, in_gap=True) if why else None

    def _gap(self, condition: Condition) -> Reason | None:
        """Make the reason for a gap in the look-back of a condition; None where there is none."""
        return gap_reason(signals_in(condition), self._view, look_back_s(condition))

    METHODS: ClassVar[Mapping[type, ReasonMethod]] = {
        checked_tree.And: _and,
        checked_tree.Or: _or,
        checked_tree.Not: _not,
        checked_tree.NumberOf: _number_of,
        checked_tree.Implies: _implies,
        checked_tree.Unless: _unless,
        checked_tree.TimedHistorically: _timed_historically,
        checked_tree.Once: _once,
        checked_tree.TimedOnce: _timed_once,
        checked_tree.BeforeAfter: _before_after,
        checked_tree.Deadline: _deadline,
        checked_tree.Since: _since,
        checked_tree.ItemMet: _item_met,
        checked_tree.Estimate: _estimate,
        checked_tree.FaultyCondition: _faulty,
    }
    """The method for each type of condition; one table for all explainers, since one is made for each verdict."""


def _kleene(truths: Sequence[Truth], *, every: bool) -> Truth:
    """Compute Kleene's and (`every`), or or."""
    if (not every) in truths:
        return not every
    return None if None in truths else every


def _join_reasons(truth: Truth, reasons: Sequence[Reason], link: str) -> Reason:
    """Join several reasons into one; a single one stays as it is."""
    if len(reasons) == 1:
        return reasons[0]
    sentence = link.join(dict.fromkeys(reason.sentence for reason in reasons)) or "no condition"
    actual = "; ".join(dict.fromkeys(reason.actual for reason in reasons if reason.actual))
    wanted = "; ".join(dict.fromkeys(reason.wanted for reason in reasons if reason.wanted))
    signals = tuple(dict.fromkeys(name for reason in reasons for name in reason.signals))
    return Reason(truth, sentence, actual, wanted, signals, tuple(reasons))


def _negated(reason: Reason, *, want: bool) -> Reason:
    """Negate a reason; its sentence stays the bare fact, which tells by itself what is wrong."""
    if want or reason.truth is None:
        return reason
    return Reason(not reason.truth, reason.sentence, reason.actual, "", reason.signals, reason.parts)


def _signal_names(signals: Sequence[Signal]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(signal.name for signal in signals))
