"""Reason why a condition never changes: the hint of the problem.

Takes: a checked condition that is always the same.  Gives: one sentence.
"""

from __future__ import annotations

from math import isfinite

from rules.language import checked_tree
from rules.language.check.linear import bounds
from rules.language.check.satisfiability import PossibleTruths, possible_truths
from rules.language.traversal import signals_in, walk
from rules.signals.model import Signal
from rules.signals.number_format import format_value
from rules.words import join_or


def why_constant(condition: checked_tree.Condition, *, never: bool) -> str:
    """Explain why a condition is always the same.

    Args:
        condition: The whole condition.
        never: True where it is never true, False where it is always true.

    Returns:
        A sentence; '' where there is nothing to add.
    """
    if isinstance(condition, checked_tree.And | checked_tree.Or):
        alone = PossibleTruths.FALSE if never else PossibleTruths.TRUE
        culprit = next((part for part in condition.parts if possible_truths(part) == alone), None)
        if culprit is not None:
            return why_constant(culprit, never=never)
    if isinstance(condition, checked_tree.And | checked_tree.Or | checked_tree.Implies | checked_tree.Unless):
        return "its parts contradict each other" if never else "its parts leave no case out"
    signals = signals_in(condition)
    if isinstance(condition, checked_tree.Relation) and condition.left == condition.right:
        return "both sides are the same"
    if not signals:
        return "it uses no signal"
    if isinstance(condition, checked_tree.BeforeAfter):
        return "an event is never after itself"
    if isinstance(condition, checked_tree.Relation) and not isinstance(
        condition.left, checked_tree.SignalValue
    ):
        return _sides(condition)
    return "; ".join(map(_signal_range, signals[:3]))


def hint_of_exclusion(when: checked_tree.Condition, then: checked_tree.Condition) -> str:
    """Give the hint for a condition that is never true while another one is."""
    lasting = [part for part in walk(then) if isinstance(part, checked_tree.TimedHistorically)]
    recent = any(isinstance(part, checked_tree.TimedOnce) for part in walk(when))
    if not (lasting and recent):
        return "write `not ...` alone, or a condition that does not contradict the first"
    span = format_value(lasting[0].seconds, "s")
    return (
        f"the {span} of `for` end now, after the event: write `(... for {span}) happened within the last 2 s`"
    )


def _sides(relation: checked_tree.Relation) -> str:
    """Describe the range of each side of a comparison."""
    left, right = bounds(relation.left), bounds(relation.right)
    unit = relation.left.unit
    return f"the left side is {_span(*left, unit)}, the right side {_span(*right, unit)}"


def _signal_range(signal: Signal) -> str:
    """Describe the values of a signal."""
    if signal.words:
        return f"{signal.name} is {join_or(signal.words)}"
    return f"{signal.name} reads {_span(signal.low, signal.high, signal.unit)}"


def _span(low: float, high: float, unit: str) -> str:
    """Format two bounds with their unit once."""
    if low == high:
        return format_value(high, unit)
    lowest = format_value(low, unit).removesuffix(f" {unit}")
    return f"{lowest} to {format_value(high, unit)}" if isfinite(high) else f"{lowest} or more"
