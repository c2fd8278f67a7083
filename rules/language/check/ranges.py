"""Checks of ranges and sweeps: both ends are numbers, limits or sums in the unit of the term between them.

Takes: `in` and `swept` as written.  Gives: checked ones in one unit, or problems in the `CheckContext`.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TypeAlias

from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext
from rules.language.check.linear import bounds, linear_term
from rules.language.check.sides import check_direction, comparison_unit
from rules.language.check.terms import EventChecker, check_term
from rules.language.check.units import MeasuredTerm, Nature, check_unit, in_unit
from rules.language.traversal import signals_in
from rules.signals.equality import FULL_CIRCLE_DEG
from rules.signals.number_format import shortest_digits

RangeExpr: TypeAlias = syntax.InRangeExpr | syntax.SweptExpr
_Ends: TypeAlias = tuple[checked_tree.Term, checked_tree.Term, checked_tree.Term]


def check_in_range(
    context: CheckContext, node: syntax.InRangeExpr, check_event: EventChecker
) -> checked_tree.Condition | None:
    """Check `term in low..high`."""
    checked = _check_term_and_ends(context, node, check_event)
    if checked is None:
        return None
    term, ends = checked
    subject, low, high = ends
    circle = term.nature is Nature.ANGLE
    if circle and _is_whole_circle(low, high):
        context.add_problem(node.low.offset, "the range is the whole circle", "a part of it")
        return None
    if not circle and not _check_order(context, node, low, high):
        return None
    return checked_tree.Between(subject, low, high, circle)


def check_sweep(
    context: CheckContext, node: syntax.SweptExpr, check_event: EventChecker
) -> checked_tree.Event | None:
    """Check `term swept low..high`."""
    checked = _check_term_and_ends(context, node, check_event)
    if checked is None:
        return None
    term, ends = checked
    if term.nature is Nature.ANGLE:
        context.add_problem(node.offset, "a direction has no ends to sweep between", "a quantity")
        return None
    subject, low, high = ends
    moving = signals_in(low, high)
    if moving:
        at = (node.low if signals_in(low) else node.high).offset
        context.add_problem(at, f"{moving[0].name} can change during a sweep", "a number or a limit")
        return None
    if not _check_order(context, node, low, high) or not _check_reach(context, node, ends):
        return None
    return checked_tree.Sweep(subject, low, high)


def _check_term_and_ends(
    context: CheckContext, node: RangeExpr, check_event: EventChecker
) -> tuple[MeasuredTerm, _Ends] | None:
    """Check a term and both ends, and convert them to one unit; None after a problem."""
    term = check_term(context, node.term, check_event)
    if not _check_one_unit(context, node):
        return None
    low_written = _with_unit_of(node.low, node.high)
    if isinstance(node.high, syntax.NumberExpr) and not check_unit(
        context, node.high.offset, node.high.unit, term.unit if term else ""
    ):
        return None
    low, high = check_term(context, low_written, check_event), check_term(context, node.high, check_event)
    if term is None or low is None or high is None:
        return None
    unit = comparison_unit(context, term, high)
    if unit is None:
        return None
    shares_unit = low_written is not node.low
    if not (check_direction(context, term, low) if shares_unit else comparison_unit(context, term, low)):
        return None
    delta = Nature.DIFFERENCE in (term.nature, low.nature, high.nature)
    subject, first, second = (in_unit(each, unit, delta=delta) for each in (term, low, high))
    return term, (subject, first, second)


def _with_unit_of(low: syntax.TermExpr, high: syntax.TermExpr) -> syntax.TermExpr:
    """Give the lower end; in `2800..3200 psi` it has the unit of the upper one."""
    if isinstance(low, syntax.NumberExpr) and isinstance(high, syntax.NumberExpr) and high.unit:
        return replace(low, unit=high.unit)
    return low


def _check_one_unit(context: CheckContext, node: RangeExpr) -> bool:
    """Refuse a unit after each of two plain numbers."""
    low, high = node.low, node.high
    if not (isinstance(low, syntax.NumberExpr) and isinstance(high, syntax.NumberExpr) and low.unit):
        return True
    unit = high.unit or low.unit
    hint = f"write `{_span(low.value, high.value, unit)}`" if unit == low.unit else ""
    context.add_problem(
        low.offset, "a unit after the first number", "one unit, after the second number", hint
    )
    return False


def _check_order(
    context: CheckContext, node: RangeExpr, low: checked_tree.Term, high: checked_tree.Term
) -> bool:
    """Refuse a lower end that is always above the upper end; for a sweep also one that equals it."""
    _, widest = _difference_bounds(high, low)
    if widest > 0 or (widest == 0 and isinstance(node, syntax.InRangeExpr)):
        return True
    swapped = _swapped(node) if isinstance(node, syntax.InRangeExpr) else ""
    context.add_problem(
        node.low.offset, "the lower end is above the upper end", "the lower end first", swapped
    )
    return False


def _difference_bounds(high: checked_tree.Term, low: checked_tree.Term) -> tuple[float, float]:
    """Give the bounds of the width of a range; terms of the same signal cancel out."""
    width = linear_term(checked_tree.Sum(high, low, -1, ""))
    if width.slope == 0:
        return width.offset, width.offset
    ends = sorted(width.at(end) if abs(end) != inf else end * width.slope for end in (width.low, width.high))
    return ends[0], ends[1]


def _swapped(node: RangeExpr) -> str:
    """Give the hint with the ends in the right order, where both are numbers or names."""
    low, high = node.low, node.high
    if isinstance(low, syntax.NumberExpr) and isinstance(high, syntax.NumberExpr):
        return f"write `{_span(high.value, low.value, high.unit)}`"
    if isinstance(low, syntax.NameExpr) and isinstance(high, syntax.NameExpr):
        return f"write `{high.path}..{low.path}`"
    return ""


def _span(low: float, high: float, unit: str) -> str:
    return f"{shortest_digits(low)}..{shortest_digits(high)} {unit}".rstrip()


def _is_whole_circle(low: checked_tree.Term, high: checked_tree.Term) -> bool:
    if not (isinstance(low, checked_tree.Constant) and isinstance(high, checked_tree.Constant)):
        return False
    return low.value != high.value and (high.value - low.value) % FULL_CIRCLE_DEG == 0


def _check_reach(context: CheckContext, node: syntax.SweptExpr, ends: _Ends) -> bool:
    """Check that the term can reach both ends of a sweep."""
    subject, low, high = ends
    lowest, highest = bounds(subject)
    low_outside, high_outside = bounds(low)[1] < lowest, bounds(high)[0] > highest
    if low_outside or high_outside:
        reach = f"{shortest_digits(lowest)}..{shortest_digits(highest)} {subject.unit}"
        at = node.low.offset if low_outside else node.high.offset
        context.add_problem(at, "this limit is outside the signal's range", f"within {reach}")
    return not (low_outside or high_outside)
