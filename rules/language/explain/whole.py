"""Why a condition is what it is: a tree of reasons that turns into one sentence.

Takes: a checked condition and a view of the present.  Gives: `Reason`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeAlias

from rules.language import checked
from rules.language.checked import Condition
from rules.language.explain.atoms import Atoms, View, lacking
from rules.language.explain.events import clause, past, perfect
from rules.language.explain.names import LABELS, Names
from rules.language.explain.terms import Atom, atom_signals, signals_in, told_apart
from rules.language.truth import Reason, Truth
from rules.signals.model import Signal
from rules.signals.numbers import say

Teller: TypeAlias = Callable[..., Reason]


def explain(condition: Condition, view: View, names: Names = LABELS) -> Reason:
    """The reason of a condition's present truth.

    Args:
        condition: One that the view can tell the truth of.
        view: An evaluator at the present moment.
        names: Says what signals are called.

    Returns:
        What is not so where it is false, what cannot be told where it is unknown, what is so where it is true.
    """
    return _Explainer(view, names).say(condition, want=True)


class _Explainer:
    """`want` is the truth that is asked for: a `not` turns it round, and the reason's truth with it."""

    def __init__(self, view: View, names: Names) -> None:
        self._view = view
        self._names = names
        self._atoms = Atoms(view, names)
        self._tellers: dict[type, Teller] = {
            checked.All: lambda c, *, want: self._joined(c.parts, want=want, every=want),
            checked.Either: lambda c, *, want: self._joined(c.parts, want=want, every=not want),
            checked.Opposite: lambda c, *, want: self.say(c.part, want=not want),
            checked.Implies: self._implies,
            checked.Held: self._held,
            checked.Occurred: self._occurred,
            checked.Recent: self._recent,
            checked.Order: self._order,
            checked.Since: self._since,
            checked.ItemMet: self._item,
            checked.Broken: lambda c, **_: Reason(None, f"cannot be judged: {c.fault.what}"),
        }

    def say(self, condition: Condition, *, want: bool) -> Reason:
        """Why the condition is, or is not, what is wanted."""
        if isinstance(condition, Atom):
            return self._atoms.explain(condition, want=want)
        return self._tellers[type(condition)](condition, want=want)

    def _fact(self, condition: Condition) -> Reason:
        """What is so, without what is needed."""
        return self.say(condition, want=self._view.truth_of(condition) is not False)

    # -- and, or, if ----------------------------------------------------------------------------

    def _joined(self, parts: Sequence[Condition], *, want: bool, every: bool) -> Reason:
        reasons = [self.say(part, want=want) for part in parts]
        truth = _decide([reason.truth for reason in reasons], every=every)
        deciding = [reason for reason in reasons if reason.truth is truth]
        return _join(truth, deciding, " or " if truth is False and not every else "; ")

    def _implies(self, condition: checked.Implies, *, want: bool) -> Reason:
        when = self._view.truth_of(condition.when)
        if not want:
            return self._joined((condition.when, checked.Opposite(condition.then)), want=True, every=True)
        then = self.say(condition.then, want=True)
        if then.truth is True and when is not False:
            return then
        cause = self._fact(condition.when)
        if when is False:
            sentence = f"does not apply: {cause.sentence}"
            return Reason(not when, sentence, signals=cause.signals, parts=(cause,))
        if when is None:
            sentence = f"cannot tell whether it applies: {cause.sentence}"
            return Reason(None, sentence, then.actual, then.wanted, cause.signals, (cause,))
        sentence = f"{then.sentence}, because {cause.sentence}"
        return Reason(then.truth, sentence, then.actual, then.wanted, then.signals, (then, cause))

    # -- time -----------------------------------------------------------------------------------

    def _held(self, condition: checked.Held, *, want: bool) -> Reason:
        truth = self._view.truth_of(condition)
        inner = self.say(condition.part, want=True) if want else self._fact(condition.part)
        sentence, actual, wanted = inner.sentence, inner.actual, inner.wanted
        span = say(condition.seconds, "s")
        if truth is True or inner.truth is False:
            sentence = f"{sentence} for {span}"
            wanted = f"{wanted} for {span}" if wanted else ""
        elif self._view.truth_of(condition.part):
            actual, wanted = told_apart(self._view.held_s(condition), condition.seconds, "s")
            sentence = f"{sentence} for {actual}" + (f", needs {wanted}" if want else "")
        return _turned(Reason(truth, sentence, actual, wanted, inner.signals, (inner,)), want=want)

    def _occurred(self, condition: checked.Occurred, *, want: bool) -> Reason:
        truth = self._view.truth_of(condition)
        if truth is None:
            return self._untold(past(condition.event), _signals(condition.event))
        sentence = perfect(condition.event, happened=truth)
        return _turned(self._event(truth, sentence, condition.event, past(condition.event)), want=want)

    def _recent(self, condition: checked.Recent, *, want: bool) -> Reason:
        truth, within = self._view.truth_of(condition), f"in the last {say(condition.seconds, 's')}"
        if truth is None:
            return self._untold(f"{past(condition.event)} {within}", _signals(condition.event))
        sentence = f"{perfect(condition.event, happened=truth)} {within}"
        wanted = f"{past(condition.event)} {within}"
        return _turned(self._event(truth, sentence, condition.event, wanted), want=want)

    def _order(self, condition: checked.Order, *, want: bool) -> Reason:
        truth, first, second = self._view.truth_of(condition), condition.first, condition.second
        signals = _signals(first) + _signals(second)
        if truth is None:
            return self._untold(f"{past(first)} {condition.relation} {past(second)}", signals)
        missing = [e for e in (first, second) if self._view.happened(e) is False]
        if truth:
            only = condition.relation == "before" and bool(missing)
            sentence = past(first) if only else f"{past(first)} {condition.relation} {past(second)}"
        elif missing and (missing[0] is first or condition.relation == "after"):
            sentence = perfect(missing[0], happened=False)
        else:
            link = "only after" if condition.relation == "before" else "but not after"
            sentence = f"{past(first)} {link} {past(second)}"
        wanted = f"{past(first)} {condition.relation} {past(second)}"
        return _turned(Reason(truth, sentence, sentence, wanted, _names(signals)), want=want)

    def _since(self, condition: checked.Since, *, want: bool) -> Reason:
        truth, part = self._view.truth_of(condition), self._view.truth_of(condition.part)
        event, since = condition.event, f"since {past(condition.event)}"
        inner = self.say(condition.part, want=True)
        if truth is None:
            return (
                inner if part is None else self._untold(f"{clause(condition.part)} {since}", _signals(event))
            )
        if truth:
            sentence = f"{inner.sentence} {since}"
        elif self._view.happened(event) is False:
            sentence = perfect(event, happened=False)
        elif part is False:
            sentence = f"{inner.sentence} {since}"
        else:
            sentence = f"{inner.sentence}, but not all the time {since}"
        return _turned(
            Reason(truth, sentence, inner.actual, inner.wanted, inner.signals, (inner,)), want=want
        )

    def _item(self, condition: checked.ItemMet, *, want: bool) -> Reason:
        truth, inner = self._view.truth_of(condition), self._view.condition_of(condition.item)
        cause = self.say(inner, want=True) if inner is not None else None
        because = f": {cause.sentence}" if cause is not None and cause.truth is truth else ""
        parts, signals = ((cause,), cause.signals) if cause is not None else ((), ())
        if truth is None:
            sentence = f"{condition.label} cannot be told{because}"
            return Reason(None, sentence, "unknown", "met", signals, parts)
        actual = "met" if truth else "not met"
        sentence = f"{condition.label} {actual}{'' if truth else because}"
        return _turned(Reason(truth, sentence, actual, "met", signals, parts), want=want)

    # -- pieces ---------------------------------------------------------------------------------

    def _event(self, truth: Truth, sentence: str, event: checked.Event, wanted: str) -> Reason:
        """What happened or not, beside what was wanted."""
        return Reason(truth, sentence, sentence, wanted, _names(_signals(event)))

    def _untold(self, claim: str, signals: tuple[Signal, ...]) -> Reason:
        """Unknown: for want of data now, or because there was none when it mattered."""
        reason = lacking(signals, self._view, self._names)
        sentence = f"cannot tell whether {claim}"
        return reason if reason is not None else Reason(None, sentence, signals=_names(signals))


def _decide(truths: Sequence[Truth], *, every: bool) -> Truth:
    """Kleene's and (`every`), or or."""
    if (not every) in truths:
        return not every
    return None if None in truths else every


def _join(truth: Truth, reasons: Sequence[Reason], link: str) -> Reason:
    """Several reasons as one; a single one stands for itself."""
    if len(reasons) == 1:
        return reasons[0]
    sentence = link.join(dict.fromkeys(reason.sentence for reason in reasons)) or "nothing is asked for"
    actual = "; ".join(dict.fromkeys(reason.actual for reason in reasons if reason.actual))
    wanted = "; ".join(dict.fromkeys(reason.wanted for reason in reasons if reason.wanted))
    signals = tuple(dict.fromkeys(name for reason in reasons for name in reason.signals))
    return Reason(truth, sentence, actual, wanted, signals, tuple(reasons))


def _turned(reason: Reason, *, want: bool) -> Reason:
    """The reason where the opposite is wanted: what is so must not be; what is not so suffices."""
    if want or reason.truth is None:
        return reason
    sentence = f"{reason.sentence}, which must not be" if reason.truth else reason.sentence
    return Reason(not reason.truth, sentence, reason.actual, "", reason.signals, reason.parts)


def _signals(event: checked.Event) -> tuple[Signal, ...]:
    """The signals that an event's moments come from."""
    if isinstance(event, checked.CallMade):
        return ()
    if isinstance(event, checked.Sweep):
        return signals_in(event.term)
    return _condition_signals(event.part)


def _condition_signals(condition: Condition) -> tuple[Signal, ...]:
    if isinstance(condition, Atom):
        return atom_signals(condition)
    if isinstance(condition, (checked.All, checked.Either)):
        return tuple(s for part in condition.parts for s in _condition_signals(part))
    if isinstance(condition, checked.Implies):
        return _condition_signals(condition.when) + _condition_signals(condition.then)
    if isinstance(condition, (checked.Opposite, checked.Held, checked.Since)):
        return _condition_signals(condition.part)
    if isinstance(condition, (checked.Occurred, checked.Recent)):
        return _signals(condition.event)
    return (
        _signals(condition.first) + _signals(condition.second) if isinstance(condition, checked.Order) else ()
    )


def _names(signals: Sequence[Signal]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(signal.name for signal in signals))
