"""Checks of terms: numbers over time, converted to common units.

Takes: terms as written.  Gives: `MeasuredTerm`, a checked term with its unit and nature, or problems in the
`CheckContext`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext
from rules.language.check.sums import check_scale, check_size, check_sum
from rules.language.check.units import MeasuredTerm, Nature, check_seconds, check_unit
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


def _check_window(
    context: CheckContext, term: syntax.WindowExpr, check_event: EventChecker
) -> MeasuredTerm | None:
    inner, seconds = check_term(context, term.term, check_event), check_seconds(context, term.span)
    if inner is None or seconds is None:
        return None
    extreme = term.function in ("highest", "lowest")
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
