"""Checks of terms: numbers over time, converted to common units.

Takes: terms as written.  Gives: `MeasuredTerm`, a checked term with its unit and nature, or problems in the
`CheckContext`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeAlias

from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext
from rules.language.check.sums import check_scale, check_size, check_sum
from rules.language.check.units import (
    MeasuredTerm,
    Nature,
    check_seconds,
    check_unit,
    common_unit,
    in_unit,
)
from rules.language.check.wildcards import are_operative, have_one_group, wildcard_names
from rules.language.scope import PackLimit
from rules.signals.model import SignalKind

EventChecker: TypeAlias = Callable[[CheckContext, syntax.EventExpr], checked_tree.Event | None]
"""Checks the event of a `count`."""


def check_term(
    context: CheckContext, term: syntax.TermExpr, check_event: EventChecker
) -> MeasuredTerm | None:
    """Check a term.

    Args:
        context: Collects the problems.
        term: As written.
        check_event: Checks the event of a `count`.

    Returns:
        The term and its unit, None after a problem.
    """
    match term:
        case syntax.NumberExpr():
            return _check_number(context, term)
        case syntax.NameExpr():
            return _check_name(context, term)
        case syntax.SumExpr():
            left, right = (
                check_term(context, term.left, check_event),
                check_term(context, term.right, check_event),
            )
            return None if left is None or right is None else check_sum(context, term, left, right)
        case syntax.ScaleExpr():
            return check_scale(context, term, check_term(context, term.term, check_event))
        case syntax.SizeExpr():
            return check_size(context, term, check_term(context, term.term, check_event))
        case syntax.AmongExpr():
            return _check_among(context, term, check_event)
        case syntax.WindowExpr():
            return _check_window(context, term, check_event)
        case syntax.CountExpr():
            return _check_count(context, term, check_event)


def _check_number(context: CheckContext, number: syntax.NumberExpr) -> MeasuredTerm | None:
    if not check_unit(context, number.offset, number.unit):
        return None
    return MeasuredTerm(
        checked_tree.Constant(number.value, number.unit or "1"), number.unit, Nature.NUMBER, number.offset
    )


def _check_name(context: CheckContext, name: syntax.NameExpr) -> MeasuredTerm | None:
    source = context.find_number(name)
    if source is None:
        return None
    unit = source.unit or "1"
    if isinstance(source, PackLimit):
        return MeasuredTerm(
            checked_tree.Constant(source.value, unit, source.label), unit, Nature.NUMBER, name.offset
        )
    nature = Nature.ANGLE if source.kind is SignalKind.ANGLE else Nature.ABSOLUTE
    return MeasuredTerm(checked_tree.SignalValue(source, unit=unit), unit, nature, name.offset)


def _check_among(
    context: CheckContext, term: syntax.AmongExpr, check_event: EventChecker
) -> MeasuredTerm | None:
    """Check `highest of ...`: the matches of a `*`, or the terms of a list, in one unit."""
    members = _members(context, term, check_event)
    if not members:
        return None
    first = members[0]
    for other in members[1:]:
        unit = common_unit(context, first, other)
        if unit is None:
            return None
        if first.nature is Nature.NUMBER:
            first = replace(first, nature=other.nature, unit=unit)
    if any(member.nature is Nature.ANGLE for member in members):
        what = f"`{term.function} of` has no meaning on a circle"
        context.add_problem(term.offset, what, "quantities", "write `x within 10 deg of y`")
        return None
    delta, unit = first.nature is Nature.DIFFERENCE, first.unit or "1"
    terms = tuple(in_unit(member, unit, delta=delta) for member in members)
    among = checked_tree.Among(term.function, terms, unit) if len(terms) > 1 else terms[0]
    return MeasuredTerm(among, unit, first.nature, term.offset)


def _members(context: CheckContext, node: syntax.AmongExpr, check_event: EventChecker) -> list[MeasuredTerm]:
    """Give the terms of a set, without those of inoperative signals; none after a problem."""
    before = len(context.problems)
    found: list[MeasuredTerm | None] = []
    for term in node.terms:
        names = wildcard_names(term)
        if not names and len(node.terms) == 1:
            what, expected = f"`{node.function} of` without a `*`", "a name with `*`, or a list"
            hint = f"write such as `{node.function} of engine.*.egt`, or a list `(a, b)`"
            context.add_problem(node.offset, what, expected, hint)
        elif not names:
            found.append(check_term(context, term, check_event))
        elif have_one_group(context, names):
            found.extend(_expanded(context, term, names, check_event))
    return [term for term in found if term is not None] if len(context.problems) == before else []


def _expanded(
    context: CheckContext,
    term: syntax.TermExpr,
    names: list[syntax.NameExpr],
    check_event: EventChecker,
) -> list[MeasuredTerm | None]:
    """Check a term for every word of its `*`, without those of inoperative signals."""
    found: list[MeasuredTerm | None] = []
    group, before = context.wildcard_group(names[0].path), len(context.problems)
    for word in context.words_in_order(group):
        with context.expanding(group, word):
            if are_operative(context, names) and len(context.problems) == before:
                found.append(check_term(context, term, check_event))
    return found


def _check_window(
    context: CheckContext, term: syntax.WindowExpr, check_event: EventChecker
) -> MeasuredTerm | None:
    inner, seconds = check_term(context, term.term, check_event), check_seconds(context, term.span)
    if inner is None or seconds is None:
        return None
    extreme = term.function in ("highest", "lowest", "average")
    if inner.nature is Nature.ANGLE and (extreme or not isinstance(inner.term, checked_tree.SignalValue)):
        what = f"{term.function} has no meaning on a circle"
        context.add_problem(
            term.offset, what, "a quantity", "write `change(x, 5 s)` or `rate(x, 5 s)` of a direction itself"
        )
        return None
    unit = inner.unit or "1"
    if term.function == "rate":
        unit = f"{unit}/s"
    nature = inner.nature if extreme else Nature.DIFFERENCE if term.function == "change" else Nature.ABSOLUTE
    return MeasuredTerm(
        checked_tree.Window(term.function, inner.term, seconds, unit), unit, nature, term.offset
    )


def _check_count(
    context: CheckContext, term: syntax.CountExpr, check_event: EventChecker
) -> MeasuredTerm | None:
    event, seconds = check_event(context, term.event), check_seconds(context, term.span)
    if event is None or seconds is None:
        return None
    return MeasuredTerm(checked_tree.EventCount(event, seconds), "1", Nature.ABSOLUTE, term.offset)
