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

from rules.language import checked
from rules.language.check.cases import Case, Holds, Knot, cases_of, either_way, knot_of
from rules.language.check.lines import Key

MOST_TRIALS = 50_000
"""How many combinations, times comparisons, are tried before a condition is taken to be able to change."""

KEPT = 4096
"""Answers kept: without them the work would double with every level of a nested condition."""


@dataclass(frozen=True, slots=True)
class Fact:
    """How a condition follows from the knots that it is made of."""

    knots: tuple[Knot, ...]
    holds: Holds

    @property
    def keys(self) -> tuple[Key, ...]:
        """Everything that it hangs on."""
        return tuple(key for knot in self.knots for key in knot.keys)


class Can(IntFlag):
    """What a condition can be."""

    FALSE = 1
    TRUE = 2
    BOTH = 3


@lru_cache(maxsize=KEPT)
def can(condition: checked.Condition) -> Can:
    """Find out what a condition can be, once all its signals are known."""
    match condition:
        case checked.All(parts):
            return _join(parts, every=True)
        case checked.Either(parts):
            return _join(parts, every=False)
        case checked.Implies(when, then):
            return _join((checked.Opposite(when), then), every=False)
        case checked.Opposite(part):
            return _turned(can(part))
        case checked.ItemMet() | checked.Broken():
            return Can.BOTH
        case checked.Held() | checked.Since() | checked.Occurred() | checked.Recent() | checked.Order():
            return _over_time(condition)
        case _:
            return _tried((condition,), every=True)


_Timed: TypeAlias = checked.Held | checked.Since | checked.Occurred | checked.Recent | checked.Order


def _over_time(condition: _Timed) -> Can:
    """What a condition over the past can be: before any event it is false."""
    match condition:
        case checked.Held(part, _):
            return can(part)
        case checked.Since(part, event):
            return Can.FALSE | (can(part) & _can_happen(event))
        case checked.Occurred(checked.Whenever(part)) | checked.Recent(checked.Whenever(part), _):
            return can(part)
        case checked.Occurred(event) | checked.Recent(event, _):
            return Can.FALSE | _can_happen(event)
        case checked.Order(first, relation, second):
            return _ordered(first, relation, second)


def _turned(mask: Can) -> Can:
    """What `not` makes of it."""
    return Can((mask & Can.FALSE) << 1 | (mask & Can.TRUE) >> 1)


def _can_happen(event: checked.Event) -> Can:
    """TRUE where an event can come at all, else nothing."""
    match event:
        case checked.Rise(part):
            return Can.TRUE if can(part) == Can.BOTH else Can(0)
        case checked.Whenever(part):
            return can(part) & Can.TRUE
        case checked.CallMade() | checked.Sweep():
            return Can.TRUE


def _ordered(first: checked.Event, relation: str, second: checked.Event) -> Can:
    """What `before` and `after` can be; an event is never after itself."""
    possible = _can_happen(first)
    if relation == "after":
        possible &= _can_happen(second) if first != second else Can(0)
    return Can.FALSE | possible


# -- parts together -------------------------------------------------------------------------------------


def _join(parts: Sequence[checked.Condition], *, every: bool) -> Can:
    """What `and` (every) or `or` can be: group by group, since groups share no signal."""
    masks = [_group(group, every=every) for group in _groups(parts)]
    alone, together = (Can.FALSE, Can.TRUE) if every else (Can.TRUE, Can.FALSE)
    found = Can(0)
    if any(mask & alone for mask in masks):
        found |= alone
    return found | together if all(mask & together for mask in masks) else found


def _group(parts: Sequence[checked.Condition], *, every: bool) -> Can:
    """What parts that share signals can be together."""
    return can(parts[0]) if len(parts) == 1 else _tried(parts, every=every)


def _groups(parts: Iterable[checked.Condition]) -> list[list[checked.Condition]]:
    """Parts by the signals that they share, directly or through others."""
    groups: list[tuple[set[Key], list[checked.Condition]]] = []
    for part in parts:
        keys = set(_fact(part).keys)
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


def _tried(parts: Sequence[checked.Condition], *, every: bool) -> Can:
    """Try every combination of cases; too many of them, and each part is taken for itself."""
    facts = [_fact(part) for part in parts]
    atoms = tuple(dict.fromkeys(knot for fact in facts for knot in fact.knots))
    keys = tuple(dict.fromkeys(key for knot in atoms for key in knot.keys))
    choices = [cases_of(key, atoms) for key in keys]
    if prod(map(len, choices)) * len(atoms) > MOST_TRIALS:
        return _apart(parts, every=every)
    join = all if every else any
    found = Can(0)
    for values in product(*choices):
        case = dict(zip(keys, values, strict=True))
        found |= Can.TRUE if join(fact.holds(case) for fact in facts) else Can.FALSE
        if found == Can.BOTH:
            break
    return found


def _apart(parts: Sequence[checked.Condition], *, every: bool) -> Can:
    """As if the parts were independent: may say that it can change where it cannot, never the reverse."""
    if len(parts) == 1:
        return Can.BOTH
    masks = [can(part) for part in parts]
    alone, together = (Can.FALSE, Can.TRUE) if every else (Can.TRUE, Can.FALSE)
    found = alone if any(mask & alone for mask in masks) else Can(0)
    return found | together if all(mask & together for mask in masks) else found


# -- facts -----------------------------------------------------------------------------------------------


@lru_cache(maxsize=KEPT)
def _fact(condition: checked.Condition) -> Fact:
    """How a condition follows from the cases of its signals."""
    match condition:
        case checked.All(parts):
            facts = [_fact(part) for part in parts]
            return _built(facts, lambda case: all(fact.holds(case) for fact in facts))
        case checked.Either(parts):
            facts = [_fact(part) for part in parts]
            return _built(facts, lambda case: any(fact.holds(case) for fact in facts))
        case checked.Implies(when, then):
            first, second = _fact(when), _fact(then)
            return _built([first, second], lambda case: not first.holds(case) or second.holds(case))
        case checked.Opposite(part):
            inner = _fact(part)
            return _built([inner], lambda case: not inner.holds(case))
        case checked.Held(part, _) | checked.Since(part, _):
            return _with_past(condition, part, and_now=True)
        case checked.Occurred(checked.Whenever(part)) | checked.Recent(checked.Whenever(part), _):
            return _with_past(condition, part, and_now=False)
        case checked.Occurred() | checked.Recent() | checked.Order() | checked.ItemMet() | checked.Broken():
            return _free(condition)
        case _:
            knot = knot_of(condition)
            return Fact((knot,), knot.test)


def _built(facts: Sequence[Fact], holds: Holds) -> Fact:
    """A fact over the knots of others."""
    return Fact(tuple(dict.fromkeys(knot for fact in facts for knot in fact.knots)), holds)


def _free(condition: checked.Condition) -> Fact:
    """What depends on the past: any of what it can be, whatever the signals say now."""
    mask = can(condition)
    truths = [truth for truth, bit in ((False, Can.FALSE), (True, Can.TRUE)) if mask & bit]
    knot = either_way(("past", condition), truths)
    return Fact((knot,), knot.test)


def _with_past(condition: checked.Condition, part: checked.Condition, *, and_now: bool) -> Fact:
    """`for` and `since` hold only while the part does; `happened` holds at least while it does."""
    past, now = _free(condition), _fact(part)

    def holds(case: Case) -> bool:
        return past.holds(case) and now.holds(case) if and_now else past.holds(case) or now.holds(case)

    return _built([past, now], holds)
