"""Checks of comparisons of two numbers, and of tolerances; also for directions.

Takes: comparisons as written.  Gives: checked ones in one unit, or problems in the `CheckContext`.
"""

from __future__ import annotations

from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext, describe_kind
from rules.language.check.linear import bounds
from rules.language.check.sides import comparison_unit, in_common_unit
from rules.language.check.terms import EventChecker, check_term
from rules.language.check.units import MeasuredTerm, Nature, common_unit, in_unit, is_temperature
from rules.signals.equality import FULL_CIRCLE_DEG


def check_compare(
    context: CheckContext, node: syntax.CompareExpr, check_event: EventChecker
) -> checked_tree.Condition | None:
    """Check `left op right`."""
    if _refuse_words(context, node, check_event):
        return None
    left, right = check_term(context, node.left, check_event), check_term(context, node.right, check_event)
    if left is None or right is None:
        return None
    unit = comparison_unit(context, left, right)
    if unit is None:
        return None
    circle = Nature.ANGLE in (left.nature, right.nature)
    if circle and node.op not in ("=", "!="):
        context.add_problem(
            node.offset,
            f"`{node.op}` has no meaning on a circle",
            "`=`, `in` or `within`",
            "write `x in 350..10 deg`, clockwise",
        )
        return None
    one, other = in_common_unit(left, right, unit)
    return checked_tree.Relation(one, node.op, other, circle)


def _refuse_words(context: CheckContext, node: syntax.CompareExpr, check_event: EventChecker) -> bool:
    """Refuse a comparison with a signal that has words; True where it did."""
    for name, other in ((node.left, node.right), (node.right, node.left)):
        if not isinstance(name, syntax.NameExpr):
            continue
        signal = context.scope.signals.get(context.expand(name.path))
        if signal is None or signal.is_numeric:
            continue
        word = (
            context.expand(other.path)
            if isinstance(other, syntax.NameExpr)
            else str(getattr(other, "value", "")).removesuffix(".0")
        )
        fits = word in signal.words or word in context.scope.signals
        shown_word = word if fits else signal.words[-1] if signal.words else "WORD"
        link = "is not" if node.op == "!=" else "is"
        context.add_problem(
            node.offset,
            f"`{node.op}` does not compare {describe_kind(signal)}",
            f"`{link}`",
            f"write `{signal.name} {link} {shown_word}`",
        )
        if not fits and not isinstance(other, syntax.NumberExpr):
            check_term(context, other, check_event)
        return True
    return False


def check_within(
    context: CheckContext, node: syntax.WithinExpr, check_event: EventChecker
) -> checked_tree.Condition | None:
    """Check `term within tolerance of target`."""
    term, target = check_term(context, node.term, check_event), check_term(context, node.target, check_event)
    tolerance = check_term(context, node.tolerance, check_event)
    if term is None or target is None or tolerance is None:
        return None
    unit = comparison_unit(context, term, target)
    if unit is None or common_unit(context, _as_absolute(term, unit), tolerance) is None:
        return None
    circle = Nature.ANGLE in (term.nature, target.nature)
    width = in_unit(tolerance, unit, delta=True)
    if not _check_tolerance(context, tolerance, width, circle=circle):
        return None
    one, other = in_common_unit(term, target, unit)
    return checked_tree.WithinTolerance(one, width, other, circle)


def _as_absolute(term: MeasuredTerm, unit: str) -> MeasuredTerm:
    """Give a term with another unit, for the check of a tolerance."""
    return MeasuredTerm(term.term, unit, Nature.ABSOLUTE, term.offset)


def _check_tolerance(
    context: CheckContext, tolerance: MeasuredTerm, width: checked_tree.Term, *, circle: bool
) -> bool:
    """Check that a tolerance is a difference, can be positive, and is less than half a circle."""
    least, most = bounds(width)
    problem: tuple[str, ...] = ()
    if tolerance.nature is Nature.ANGLE or (
        tolerance.nature is Nature.ABSOLUTE and is_temperature(tolerance.unit)
    ):
        kind = "direction" if tolerance.nature is Nature.ANGLE else "temperature"
        problem = (f"a {kind} is no tolerance", "a difference, such as 5 deg" if circle else "a difference")
    elif most < 0:
        problem = ("a tolerance below zero", "a positive number")
    elif most == 0:
        problem = ("a tolerance of zero", "a positive number", "write `=`")
    elif circle and least >= FULL_CIRCLE_DEG / 2:
        problem = ("this tolerance covers the whole circle", "less than 180 deg")
    if problem:
        context.add_problem(tolerance.offset, *problem)
    return not problem
