"""Checks of comparisons: two numbers, a range, a tolerance, a sweep; also for directions.

Takes: comparisons as written.  Gives: checked ones in one unit, or problems in the `CheckContext`.
"""

from __future__ import annotations

from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext, describe_kind
from rules.language.check.linear import bounds
from rules.language.check.terms import EventChecker, check_term
from rules.language.check.units import MeasuredTerm, Nature, check_unit, common_unit, in_unit, is_temperature
from rules.signals import units
from rules.signals.equality import FULL_CIRCLE_DEG
from rules.signals.number_format import format_value, shortest_digits


def check_compare(
    context: CheckContext, node: syntax.CompareExpr, check_event: EventChecker
) -> checked_tree.Condition | None:
    """Check `left op right`."""
    if _refuse_words(context, node, check_event):
        return None
    left, right = check_term(context, node.left, check_event), check_term(context, node.right, check_event)
    if left is None or right is None:
        return None
    unit = _comparison_unit(context, left, right)
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
    one, other = _in_common_unit(left, right, unit)
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


def check_in_range(
    context: CheckContext, node: syntax.InRangeExpr, check_event: EventChecker
) -> checked_tree.Condition | None:
    """Check `term in low..high unit`."""
    term = check_term(context, node.term, check_event)
    limits = _check_limits(context, node, node.low, node.high, node.unit, term)
    if term is None or limits is None:
        return None
    circle = term.nature is Nature.ANGLE
    low, high = limits
    if circle and low != high and (high - low) % FULL_CIRCLE_DEG == 0:
        context.add_problem(node.part_offsets[0], "the range is the whole circle", "a part of it")
        return None
    if not circle and low > high:
        swapped = f"{shortest_digits(node.high)}..{shortest_digits(node.low)} {node.unit}".rstrip()
        context.add_problem(
            node.part_offsets[0],
            "the lower end is above the upper end",
            "the lower end first",
            f"write `{swapped}`",
        )
        return None
    return checked_tree.Between(term.term, low, high, circle)


def _check_limits(
    context: CheckContext,
    node: syntax.InRangeExpr | syntax.SweptExpr,
    low: float,
    high: float,
    unit: str,
    term: MeasuredTerm | None,
) -> tuple[float, float] | None:
    """Convert both ends to the term's unit; a problem where they do not convert or are no directions."""
    if not check_unit(context, node.part_offsets[1], unit, term.unit if term else "") or term is None:
        return None
    ends = [
        MeasuredTerm(checked_tree.Constant(end, unit or "1"), unit, Nature.NUMBER, at)
        for end, at in zip((low, high), node.part_offsets, strict=True)
    ]
    wanted = common_unit(context, term, ends[1])
    if wanted is None or not all(_check_direction(context, term, end) for end in ends):
        return None
    delta = term.nature is Nature.DIFFERENCE
    first, second = (_value(in_unit(end, wanted, delta=delta)) for end in ends)
    return first, second


def _value(term: checked_tree.Term) -> float:
    assert isinstance(term, checked_tree.Constant)  # noqa: S101 - a number stays one; our own mistake otherwise
    return term.value


def check_within(
    context: CheckContext, node: syntax.WithinExpr, check_event: EventChecker
) -> checked_tree.Condition | None:
    """Check `term within tolerance of target`."""
    term, target = check_term(context, node.term, check_event), check_term(context, node.target, check_event)
    tolerance = check_term(context, node.tolerance, check_event)
    if term is None or target is None or tolerance is None:
        return None
    unit = _comparison_unit(context, term, target)
    if unit is None or common_unit(context, _as_absolute(term, unit), tolerance) is None:
        return None
    circle = Nature.ANGLE in (term.nature, target.nature)
    width = _value(in_unit(tolerance, unit, delta=True))
    if not _check_tolerance(context, node.tolerance, width, circle=circle):
        return None
    one, other = _in_common_unit(term, target, unit)
    return checked_tree.WithinTolerance(one, width, other, circle)


def _as_absolute(term: MeasuredTerm, unit: str) -> MeasuredTerm:
    """Give a term with another unit, for the check of a tolerance."""
    return MeasuredTerm(term.term, unit, Nature.ABSOLUTE, term.offset)


def _check_tolerance(
    context: CheckContext, tolerance: syntax.NumberExpr, width: float, *, circle: bool
) -> bool:
    """Check that a tolerance is positive and less than half a circle."""
    if width < 0:
        context.add_problem(tolerance.offset, "a tolerance below zero", "a positive number")
    elif width == 0:
        context.add_problem(tolerance.offset, "a tolerance of zero", "a positive number", "write `=`")
    elif circle and width >= FULL_CIRCLE_DEG / 2:
        context.add_problem(tolerance.offset, "this tolerance covers the whole circle", "less than 180 deg")
    return width > 0 and not (circle and width >= FULL_CIRCLE_DEG / 2)


def check_sweep(
    context: CheckContext, node: syntax.SweptExpr, check_event: EventChecker
) -> checked_tree.Event | None:
    """Check `term swept low..high unit`."""
    term = check_term(context, node.term, check_event)
    limits = _check_limits(context, node, node.low, node.high, node.unit, term)
    if term is None or limits is None:
        return None
    if term.nature is Nature.ANGLE:
        context.add_problem(node.offset, "a direction has no ends to sweep between", "a quantity")
        return None
    low, high = limits
    if low >= high:
        context.add_problem(
            node.part_offsets[0], "the lower end is above the upper end", "the lower end first"
        )
        return None
    lowest, highest = bounds(term.term)
    if low < lowest or high > highest:
        reach = f"{shortest_digits(lowest)}..{shortest_digits(highest)} {term.unit}"
        context.add_problem(
            node.part_offsets[0] if low < lowest else node.part_offsets[1],
            "this limit is outside the signal's range",
            f"within {reach}",
        )
        return None
    return checked_tree.Sweep(term.term, low, high)


# -- the two sides of a comparison --------------------------------------------------------------------------


def _comparison_unit(context: CheckContext, left: MeasuredTerm, right: MeasuredTerm) -> str | None:
    """Give the common unit of the two sides of a comparison; a problem where there is none."""
    unit = common_unit(context, left, right)
    if unit is None:
        return None
    natures = {left.nature, right.nature} - {Nature.NUMBER}
    if Nature.ANGLE in natures and len(natures) > 1:
        context.add_problem(
            right.offset, "a direction does not compare with a plain number of degrees", "two directions"
        )
        return None
    if is_temperature(unit) and natures == {Nature.ABSOLUTE, Nature.DIFFERENCE}:
        context.add_problem(
            right.offset, "a temperature does not compare with a difference of temperatures", "two of a kind"
        )
        return None
    sound = [_check_direction(context, one, other) for one, other in ((left, right), (right, left))]
    return unit if all(sound) else None


def _check_direction(context: CheckContext, reference: MeasuredTerm, number: MeasuredTerm) -> bool:
    """Check that a number beside a direction is a direction, 0 to 360 deg."""
    if (
        reference.nature is not Nature.ANGLE
        or not isinstance(number.term, checked_tree.Constant)
        or number.is_unitless
    ):
        return True
    value = number.term.value
    if 0 <= units.convert(value, number.unit, "deg") <= FULL_CIRCLE_DEG:
        return True
    context.add_problem(
        number.offset,
        f"{format_value(value, number.unit)} is no direction",
        "0 to 360 deg",
        f"write `{shortest_digits(value % FULL_CIRCLE_DEG)} deg`",
    )
    return False


def _in_common_unit(
    left: MeasuredTerm, right: MeasuredTerm, unit: str
) -> tuple[checked_tree.Term, checked_tree.Term]:
    """Convert both sides to one unit; differences without a zero point."""
    delta = Nature.DIFFERENCE in (left.nature, right.nature)
    return in_unit(left, unit, delta=delta), in_unit(right, unit, delta=delta)
