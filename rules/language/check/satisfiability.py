"""Settled: whether a condition can be true and can be false at all, over every value its signals can have.

Never wrong in saying that a condition cannot change: where it does not know, it says that it can.
Unknown is left out, since a condition that is true or unknown, never false, tells no more than
whether the data came.  Conditions over common signals are tried out together, over one value from
each stretch in which none of their comparisons changes; what has no signal in common is
independent.

Takes: checked conditions.  Gives: `Can`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntFlag
from functools import lru_cache
from itertools import product
from math import prod
from typing import TypeAlias

from rules.language import checked_tree
from rules.language.check.cases import (
    Case,
    CaseTest,
    Comparison,
    comparison_of,
    free_comparison,
    trial_values,
)
from rules.language.check.linear import VariableKey

MAX_TRIALS = 50_000
"""How many combinations, times comparisons, are tried before a condition is taken to be able to change."""

CACHE_SIZE = 4096
"""Answers kept: without them the work would double with every level of a nested condition."""


@dataclass(frozen=True, slots=True)
class Formula:
    """How a condition follows from the knots that it is made of."""

    comparisons: tuple[Comparison, ...]
    holds: CaseTest

    @property
    def keys(self) -> tuple[VariableKey, ...]:
        """Everything that it hangs on."""
        return tuple(key for knot in self.comparisons for key in knot.keys)


class PossibleTruths(IntFlag):
    """What a condition can be."""

    FALSE = 1
    TRUE = 2
    BOTH = 3


@lru_cache(maxsize=CACHE_SIZE)
def possible_truths(condition: checked_tree.Condition) -> PossibleTruths:
    """Find out what a condition can be, once all its signals are known."""
    match condition:
        case checked_tree.And(parts):
            return _combine(parts, every=True)
        case checked_tree.Or(parts):
            return _combine(parts, every=False)
        case checked_tree.Implies(when, then):
            return _combine((checked_tree.Not(when), then), every=False)
        case checked_tree.Not(part):
            return _negated(possible_truths(part))
        case checked_tree.ItemMet() | checked_tree.FaultyCondition():
            return PossibleTruths.BOTH
        case (
            checked_tree.TimedHistorically()
            | checked_tree.Since()
            | checked_tree.Once()
            | checked_tree.TimedOnce()
            | checked_tree.BeforeAfter()
        ):
            return _over_time(condition)
        case _:
            return _try_cases((condition,), every=True)


_Timed: TypeAlias = (
    checked_tree.TimedHistorically
    | checked_tree.Since
    | checked_tree.Once
    | checked_tree.TimedOnce
    | checked_tree.BeforeAfter
)


def _over_time(condition: _Timed) -> PossibleTruths:
    """What a condition over the past can be: before any event it is false."""
    match condition:
        case checked_tree.TimedHistorically(part, _):
            return possible_truths(part)
        case checked_tree.Since(part, event):
            return PossibleTruths.FALSE | (possible_truths(part) & _event_possible(event))
        case checked_tree.Once(checked_tree.Whenever(part)) | checked_tree.TimedOnce(
            checked_tree.Whenever(part), _
        ):
            return possible_truths(part)
        case checked_tree.Once(event) | checked_tree.TimedOnce(event, _):
            return PossibleTruths.FALSE | _event_possible(event)
        case checked_tree.BeforeAfter(first, relation, second):
            return _before_after(first, relation, second)


def _negated(mask: PossibleTruths) -> PossibleTruths:
    """What `not` makes of it."""
    return PossibleTruths((mask & PossibleTruths.FALSE) << 1 | (mask & PossibleTruths.TRUE) >> 1)


def _event_possible(event: checked_tree.Event) -> PossibleTruths:
    """TRUE where an event can come at all, else nothing."""
    match event:
        case checked_tree.Rise(part):
            return PossibleTruths.TRUE if possible_truths(part) == PossibleTruths.BOTH else PossibleTruths(0)
        case checked_tree.Whenever(part):
            return possible_truths(part) & PossibleTruths.TRUE
        case checked_tree.CallEvent() | checked_tree.Sweep():
            return PossibleTruths.TRUE


def _before_after(first: checked_tree.Event, relation: str, second: checked_tree.Event) -> PossibleTruths:
    """What `before` and `after` can be; an event is never after itself."""
    possible = _event_possible(first)
    if relation == "after":
        possible &= _event_possible(second) if first != second else PossibleTruths(0)
    return PossibleTruths.FALSE | possible


# -- parts together -------------------------------------------------------------------------------------


def _combine(parts: Sequence[checked_tree.Condition], *, every: bool) -> PossibleTruths:
    """What `and` (every) or `or` can be: group by group, since groups share no signal."""
    masks = [_group(group, every=every) for group in _groups(parts)]
    alone, together = (
        (PossibleTruths.FALSE, PossibleTruths.TRUE) if every else (PossibleTruths.TRUE, PossibleTruths.FALSE)
    )
    found = PossibleTruths(0)
    if any(mask & alone for mask in masks):
        found |= alone
    return found | together if all(mask & together for mask in masks) else found


def _group(parts: Sequence[checked_tree.Condition], *, every: bool) -> PossibleTruths:
    """What parts that share signals can be together."""
    return possible_truths(parts[0]) if len(parts) == 1 else _try_cases(parts, every=every)


def _groups(parts: Iterable[checked_tree.Condition]) -> list[list[checked_tree.Condition]]:
    """Parts by the signals that they share, directly or through others."""
    groups: list[tuple[set[VariableKey], list[checked_tree.Condition]]] = []
    for part in parts:
        keys = set(_formula_of(part).keys)
        members = [part]
        apart = []
        for group in groups:
            if group[0] & keys:
                keys |= group[0]
                members = group[1] + members
            else:
                apart.append(group)
        groups = [*apart, (keys, members)]
    return [members for _, members in groups]


def _try_cases(parts: Sequence[checked_tree.Condition], *, every: bool) -> PossibleTruths:
    """Try every combination of cases; too many of them, and each part is taken for itself."""
    facts = [_formula_of(part) for part in parts]
    atoms = tuple(dict.fromkeys(knot for fact in facts for knot in fact.comparisons))
    keys = tuple(dict.fromkeys(key for knot in atoms for key in knot.keys))
    choices = [trial_values(key, atoms) for key in keys]
    if prod(map(len, choices)) * len(atoms) > MAX_TRIALS:
        return _as_independent(parts, every=every)
    join = all if every else any
    found = PossibleTruths(0)
    for values in product(*choices):
        case = dict(zip(keys, values, strict=True))
        found |= PossibleTruths.TRUE if join(fact.holds(case) for fact in facts) else PossibleTruths.FALSE
        if found == PossibleTruths.BOTH:
            break
    return found


def _as_independent(parts: Sequence[checked_tree.Condition], *, every: bool) -> PossibleTruths:
    """As if the parts were independent: may say that it can change where it cannot, never the reverse."""
    if len(parts) == 1:
        return PossibleTruths.BOTH
    masks = [possible_truths(part) for part in parts]
    alone, together = (
        (PossibleTruths.FALSE, PossibleTruths.TRUE) if every else (PossibleTruths.TRUE, PossibleTruths.FALSE)
    )
    found = alone if any(mask & alone for mask in masks) else PossibleTruths(0)
    return found | together if all(mask & together for mask in masks) else found


# -- facts -----------------------------------------------------------------------------------------------


@lru_cache(maxsize=CACHE_SIZE)
def _formula_of(condition: checked_tree.Condition) -> Formula:
    """How a condition follows from the cases of its signals."""
    match condition:
        case checked_tree.And(parts):
            facts = [_formula_of(part) for part in parts]
            return _compose(facts, lambda case: all(fact.holds(case) for fact in facts))
        case checked_tree.Or(parts):
            facts = [_formula_of(part) for part in parts]
            return _compose(facts, lambda case: any(fact.holds(case) for fact in facts))
        case checked_tree.Implies(when, then):
            first, second = _formula_of(when), _formula_of(then)
            return _compose([first, second], lambda case: not first.holds(case) or second.holds(case))
        case checked_tree.Not(part):
            inner = _formula_of(part)
            return _compose([inner], lambda case: not inner.holds(case))
        case checked_tree.TimedHistorically(part, _) | checked_tree.Since(part, _):
            return _with_past(condition, part, and_now=True)
        case checked_tree.Once(checked_tree.Whenever(part)) | checked_tree.TimedOnce(
            checked_tree.Whenever(part), _
        ):
            return _with_past(condition, part, and_now=False)
        case (
            checked_tree.Once()
            | checked_tree.TimedOnce()
            | checked_tree.BeforeAfter()
            | checked_tree.ItemMet()
            | checked_tree.FaultyCondition()
        ):
            return _unconstrained(condition)
        case _:
            knot = comparison_of(condition)
            return Formula((knot,), knot.test)


def _compose(facts: Sequence[Formula], holds: CaseTest) -> Formula:
    """A fact over the knots of others."""
    return Formula(tuple(dict.fromkeys(knot for fact in facts for knot in fact.comparisons)), holds)


def _unconstrained(condition: checked_tree.Condition) -> Formula:
    """What depends on the past: any of what it can be, whatever the signals say now."""
    mask = possible_truths(condition)
    truths = [
        truth for truth, bit in ((False, PossibleTruths.FALSE), (True, PossibleTruths.TRUE)) if mask & bit
    ]
    knot = free_comparison(("past", condition), truths)
    return Formula((knot,), knot.test)


def _with_past(condition: checked_tree.Condition, part: checked_tree.Condition, *, and_now: bool) -> Formula:
    """`for` and `since` hold only while the part does; `happened` holds at least while it does."""
    past, now = _unconstrained(condition), _formula_of(part)

    def holds(case: Case) -> bool:
        return past.holds(case) and now.holds(case) if and_now else past.holds(case) or now.holds(case)

    return _compose([past, now], holds)
