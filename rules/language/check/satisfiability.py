"""Satisfiability: the possible truths of a condition over every value that its signals can have.

An answer of "never" or "always" is certain; where the trial would be too large the answer is "both".  Unknown
is left out, since a condition that is never false would only show that data has arrived.  Parts with common
signals are tried together, parts without are independent:

    a > 5 and a < 3 and b is on

    group 1: a > 5, a < 3     over a = 2, 3, 4, 5, 6   never both true
    group 2: b is on          over b = off, on         can be both
    and: false is possible in a group; true is not possible in group 1: never true

Operators of time are variables of their own: "a > 5 for 2 s" is false where a > 5 is false, and otherwise true or
false, depending on the past.

Takes: checked conditions.  Gives: `PossibleTruths`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
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
    has_constant_ends,
    trial_values,
)
from rules.language.check.linear import VariableKey
from rules.language.deadline import overdue

MAX_TRIALS = 50_000
"""Maximum number of combinations times comparisons; above it the parts count as independent."""

CACHE_SIZE = 4096
"""Number of cached answers; without them the work would double with every level of a nested condition."""


@dataclass(frozen=True, slots=True)
class Formula:
    """Condition as a function of the comparisons in it."""

    comparisons: tuple[Comparison, ...]
    holds: CaseTest

    @property
    def keys(self) -> tuple[VariableKey, ...]:
        """Keys of all variables."""
        return tuple(key for comparison in self.comparisons for key in comparison.keys)


class PossibleTruths(IntFlag):
    """Set of the truths that a condition can have."""

    FALSE = 1
    TRUE = 2
    BOTH = 3


@lru_cache(maxsize=CACHE_SIZE)
def possible_truths(condition: checked_tree.Condition) -> PossibleTruths:
    """Compute the possible truths of a condition whose signals are all known."""
    match condition:
        case checked_tree.And(parts):
            return _combine(parts, every=True)
        case checked_tree.Or(parts):
            return _combine(parts, every=False)
        case checked_tree.Implies(when, then):
            return _combine((checked_tree.Not(when), then), every=False)
        case checked_tree.Unless(part, excuse):
            return _combine((part, excuse), every=False)
        case checked_tree.Not(part):
            return _negated(possible_truths(part))
        case checked_tree.ItemMet() | checked_tree.Estimate() | checked_tree.FaultyCondition():
            return PossibleTruths.BOTH
        case checked_tree.Deadline():
            return _negated(possible_truths(overdue(condition)))
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
    """Compute the possible truths of an operator of time; before any event it is false."""
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
    """Negate a set of truths."""
    return PossibleTruths((mask & PossibleTruths.FALSE) << 1 | (mask & PossibleTruths.TRUE) >> 1)


def _event_possible(event: checked_tree.Event) -> PossibleTruths:
    """Give TRUE where an event can happen at all, else the empty set."""
    match event:
        case checked_tree.Rise(part):
            return PossibleTruths.TRUE if possible_truths(part) == PossibleTruths.BOTH else PossibleTruths(0)
        case checked_tree.Whenever(part):
            return possible_truths(part) & PossibleTruths.TRUE
        case checked_tree.CallEvent() | checked_tree.Changed() | checked_tree.Sweep():
            return PossibleTruths.TRUE


def _before_after(first: checked_tree.Event, relation: str, second: checked_tree.Event) -> PossibleTruths:
    """Compute the possible truths of `before` and `after`; an event is never after itself."""
    possible = _event_possible(first)
    if relation == "after":
        possible &= _event_possible(second) if first != second else PossibleTruths(0)
    return PossibleTruths.FALSE | possible


# -- parts at different times ---------------------------------------------------------------------------
#
# `pump became on within the last 1 s` and `pump is off for 120 s` are never true together, because the time of `for`
# contains the moment of the event, and the moment just before it:
#
#     time                 now - 120       now - 1      now
#     pump is off for 120 s      [--------- off ----------]
#     pump became on                           (---- on --]


def excludes(one: checked_tree.Condition, other: checked_tree.Condition) -> bool:
    """Check that two conditions are never true together, though each can be."""
    both = PossibleTruths.TRUE & possible_truths(one) & possible_truths(other)
    return bool(both) and not possible_truths(checked_tree.And((one, other))) & PossibleTruths.TRUE


def _clash_in_time(parts: Sequence[checked_tree.Condition]) -> bool:
    """Check for an event within a time over all of which another part must have been true, where that is not possible."""
    conjuncts = list(_conjuncts(parts))
    recent = [part for part in conjuncts if isinstance(part, checked_tree.TimedOnce)]
    lasting = [part for part in conjuncts if isinstance(part, checked_tree.TimedHistorically)]
    return any(
        once.seconds <= always.seconds and _event_breaks(once.event, always.part)
        for once in recent
        for always in lasting
    )


def _conjuncts(parts: Iterable[checked_tree.Condition]) -> Iterator[checked_tree.Condition]:
    """Give the parts of an `and`, and those of the `and`s in it."""
    for part in parts:
        if isinstance(part, checked_tree.And):
            yield from _conjuncts(part.parts)
        else:
            yield part


def _event_breaks(event: checked_tree.Event, part: checked_tree.Condition) -> bool:
    """Check that a part cannot be true both at an event and just before it."""
    if isinstance(event, checked_tree.Changed):
        return (
            isinstance(part, checked_tree.WordIs)
            and len(part.words) == 1
            and not part.negated
            and part.signal == event.signal
        )
    if isinstance(event, checked_tree.Rise):
        return excludes(event.part, part) or excludes(checked_tree.Not(event.part), part)
    return isinstance(event, checked_tree.Whenever) and excludes(event.part, part)


# -- parts together -------------------------------------------------------------------------------------


def _combine(parts: Sequence[checked_tree.Condition], *, every: bool) -> PossibleTruths:
    """Combine the groups of `and` (every) or `or`: groups share no signal, so they are independent."""
    if every and _clash_in_time(parts):
        return PossibleTruths.FALSE
    masks = [_group(group, every=every) for group in _groups(parts)]
    alone, together = (
        (PossibleTruths.FALSE, PossibleTruths.TRUE) if every else (PossibleTruths.TRUE, PossibleTruths.FALSE)
    )
    found = PossibleTruths(0)
    if any(mask & alone for mask in masks):
        found |= alone
    return found | together if all(mask & together for mask in masks) else found


def _group(parts: Sequence[checked_tree.Condition], *, every: bool) -> PossibleTruths:
    """Compute the possible truths of parts that share signals."""
    return possible_truths(parts[0]) if len(parts) == 1 else _try_cases(parts, every=every)


def _groups(parts: Iterable[checked_tree.Condition]) -> list[list[checked_tree.Condition]]:
    """Group parts by common signals, direct or through other parts."""
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
    """Try every combination of values; where there are too many, treat the parts as independent."""
    formulas = [_formula_of(part) for part in parts]
    comparisons = tuple(dict.fromkeys(each for formula in formulas for each in formula.comparisons))
    keys = tuple(dict.fromkeys(key for comparison in comparisons for key in comparison.keys))
    choices = [trial_values(key, comparisons) for key in keys]
    if prod(map(len, choices)) * len(comparisons) > MAX_TRIALS:
        return _as_independent(parts, every=every)
    join = all if every else any
    found = PossibleTruths(0)
    for values in product(*choices):
        case = dict(zip(keys, values, strict=True))
        found |= (
            PossibleTruths.TRUE if join(formula.holds(case) for formula in formulas) else PossibleTruths.FALSE
        )
        if found == PossibleTruths.BOTH:
            break
    return found


def _as_independent(parts: Sequence[checked_tree.Condition], *, every: bool) -> PossibleTruths:
    """Combine parts as if they were independent: may report BOTH where only one is possible, never the reverse."""
    if len(parts) == 1:
        return PossibleTruths.BOTH
    masks = [possible_truths(part) for part in parts]
    alone, together = (
        (PossibleTruths.FALSE, PossibleTruths.TRUE) if every else (PossibleTruths.TRUE, PossibleTruths.FALSE)
    )
    found = alone if any(mask & alone for mask in masks) else PossibleTruths(0)
    return found | together if all(mask & together for mask in masks) else found


# -- formulas ----------------------------------------------------------------------------------------------


@lru_cache(maxsize=CACHE_SIZE)
def _formula_of(condition: checked_tree.Condition) -> Formula:
    """Convert a condition to a formula."""
    match condition:
        case checked_tree.And(parts) | checked_tree.Or(parts) | checked_tree.NumberOf(parts):
            return _formula_of_parts(condition, [_formula_of(part) for part in parts])
        case checked_tree.Implies(when, then):
            first, second = _formula_of(when), _formula_of(then)
            return _compose([first, second], lambda case: not first.holds(case) or second.holds(case))
        case checked_tree.Unless(part, excuse):
            return _formula_of(checked_tree.Or((part, excuse)))
        case checked_tree.Not(part):
            inner = _formula_of(part)
            return _compose([inner], lambda case: not inner.holds(case))
        case checked_tree.Deadline():
            return _formula_of(checked_tree.Not(overdue(condition)))
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
            | checked_tree.Estimate()
            | checked_tree.FaultyCondition()
        ):
            return _unconstrained(condition)
        case checked_tree.Between(term, low, high, False) if not has_constant_ends(condition):
            sides = (checked_tree.Relation(term, ">=", low), checked_tree.Relation(term, "<=", high))
            return _formula_of(checked_tree.And(sides))
        case _:
            comparison = comparison_of(condition)
            return Formula((comparison,), comparison.test)


def _formula_of_parts(
    condition: checked_tree.And | checked_tree.Or | checked_tree.NumberOf, formulas: Sequence[Formula]
) -> Formula:
    """Make the formula of a condition that depends on how many of its parts are true."""
    match condition:
        case checked_tree.And():
            return _compose(formulas, lambda case: all(formula.holds(case) for formula in formulas))
        case checked_tree.Or():
            return _compose(formulas, lambda case: any(formula.holds(case) for formula in formulas))
        case checked_tree.NumberOf(_, least, most):
            return _compose(
                formulas, lambda case: least <= sum(formula.holds(case) for formula in formulas) <= most
            )


def _compose(formulas: Sequence[Formula], holds: CaseTest) -> Formula:
    """Make a formula over the comparisons of other formulas."""
    return Formula(tuple(dict.fromkeys(each for formula in formulas for each in formula.comparisons)), holds)


def _unconstrained(condition: checked_tree.Condition) -> Formula:
    """Make a formula for a condition on the past: any of its possible truths, for all present values."""
    mask = possible_truths(condition)
    truths = [
        truth for truth, bit in ((False, PossibleTruths.FALSE), (True, PossibleTruths.TRUE)) if mask & bit
    ]
    comparison = free_comparison(("past", condition), truths)
    return Formula((comparison,), comparison.test)


def _with_past(condition: checked_tree.Condition, part: checked_tree.Condition, *, and_now: bool) -> Formula:
    """Link a condition on the past to its part: `for` and `since` need it now, `happened` is true at least while it is."""
    past, now = _unconstrained(condition), _formula_of(part)

    def holds(case: Case) -> bool:
        return past.holds(case) and now.holds(case) if and_now else past.holds(case) or now.holds(case)

    return _compose([past, now], holds)
