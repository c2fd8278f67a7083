"""Checks of sums and multiples: which combinations of readings, differences and directions are meaningful.

Two readings of a temperature cannot be added, and the difference of two directions depends on the way round.

Takes: checked terms.  Gives: `MeasuredTerm`, or problems in the `CheckContext`.
"""

from __future__ import annotations

from dataclasses import replace

from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext
from rules.language.check.units import MeasuredTerm, Nature, common_unit, in_unit, is_temperature
from rules.signals import units
from rules.signals.number_format import format_value


def check_sum(
    context: CheckContext, term: syntax.SumExpr, left: MeasuredTerm, right: MeasuredTerm
) -> MeasuredTerm | None:
    """Check `left + right` or `left - right`, in their common unit; None after a problem."""
    unit = common_unit(context, left, right)
    if unit is None:
        return None
    nature = _nature_of_sum(context, term, left, right, temperature=is_temperature(unit))
    if nature is None:
        return None
    differences = _which_are_differences(left.nature, term.sign, right.nature)
    total = checked_tree.Sum(
        in_unit(left, unit, delta=differences[0]),
        in_unit(right, unit, delta=differences[1]),
        1 if term.sign == "+" else -1,
        unit,
    )
    both_unitless = left.is_unitless and right.is_unitless
    return MeasuredTerm(total, "" if both_unitless else unit, nature, term.offset)


def _which_are_differences(left: Nature, sign: str, right: Nature) -> tuple[bool, bool]:
    """Decide for each of the two sides if it is a difference; matters for temperatures only."""
    if left is right is Nature.ABSOLUTE or (
        left is Nature.NUMBER and right is Nature.ABSOLUTE and sign == "-"
    ):
        return False, False
    apart = left is Nature.DIFFERENCE or (left is Nature.NUMBER and right is not Nature.NUMBER)
    return apart, right is not Nature.ABSOLUTE


_SUM_NATURES = {
    (Nature.ABSOLUTE, "-", Nature.ABSOLUTE): Nature.DIFFERENCE,
    (Nature.NUMBER, "-", Nature.ABSOLUTE): Nature.DIFFERENCE,
    (Nature.DIFFERENCE, "+", Nature.ABSOLUTE): Nature.ABSOLUTE,
    (Nature.NUMBER, "+", Nature.ABSOLUTE): Nature.ABSOLUTE,
    (Nature.NUMBER, "+", Nature.NUMBER): Nature.NUMBER,
    (Nature.NUMBER, "-", Nature.NUMBER): Nature.NUMBER,
}
_MEANINGLESS_SUMS = {(Nature.ABSOLUTE, "+", Nature.ABSOLUTE), (Nature.DIFFERENCE, "-", Nature.ABSOLUTE)}


def _nature_of_sum(
    context: CheckContext, term: syntax.SumExpr, left: MeasuredTerm, right: MeasuredTerm, *, temperature: bool
) -> Nature | None:
    """Give the nature of a sum or difference; None and a problem where it is meaningless."""
    if Nature.ANGLE in (left.nature, right.nature):
        return _nature_of_direction_sum(context, term, left.nature, right.nature)
    key = (left.nature, term.sign, right.nature)
    if temperature and key in _MEANINGLESS_SUMS:
        context.add_problem(
            term.offset,
            "two temperatures do not add up",
            "a temperature and a difference",
            "write `x + 5 degC` or `x - y`",
        )
        return None
    if not temperature:
        return Nature.NUMBER if left.nature is right.nature is Nature.NUMBER else Nature.ABSOLUTE
    return _SUM_NATURES.get(key, left.nature if left.nature is not Nature.NUMBER else right.nature)


def _nature_of_direction_sum(
    context: CheckContext, term: syntax.SumExpr, left: Nature, right: Nature
) -> Nature | None:
    """Allow a direction plus or minus a number of degrees; refuse sums and differences of two directions."""
    if left is right or (term.sign == "-" and right is Nature.ANGLE):
        context.add_problem(
            term.offset,
            f"`{term.sign}` between directions has no meaning",
            "one direction and a number of degrees",
            "write `x within 10 deg of y`",
        )
        return None
    return Nature.ANGLE


def check_scale(
    context: CheckContext, term: syntax.ScaleExpr, inner: MeasuredTerm | None
) -> MeasuredTerm | None:
    """Check `inner * factor` or `inner / factor`; None after a problem."""
    factor = term.factor
    if factor == 0:
        what = "division by zero" if term.sign == "/" else "a multiple of zero is always zero"
        context.add_problem(
            term.part_offsets[0] if term.part_offsets else term.offset, what, "a number other than 0"
        )
        return None
    if inner is None:
        return None
    if inner.nature is Nature.ANGLE:
        context.add_problem(term.offset, f"`{term.sign}` has no meaning for a direction", "a quantity")
        return None
    if inner.nature is Nature.ABSOLUTE and is_temperature(inner.unit):
        context.add_problem(
            term.offset, f"`{term.sign}` has no meaning for a temperature", "a difference of temperatures"
        )
        return None
    if term.unit:
        return _check_rate(context, term, inner)
    scaled = checked_tree.Scale(inner.term, factor if term.sign == "*" else 1 / factor, inner.unit or "1")
    return replace(inner, term=scaled, offset=term.offset)


def _check_rate(context: CheckContext, term: syntax.ScaleExpr, inner: MeasuredTerm) -> MeasuredTerm | None:
    """Check `distance * 318 ft/NM` (a height) and `fuel / 40 kg/min` (a time); None after a problem."""
    of_unit, _, per_unit = term.unit.partition("/")
    cancelled, result = (per_unit, of_unit) if term.sign == "*" else (of_unit, per_unit)
    own = inner.unit or "1"
    known = per_unit and units.is_known(of_unit) and units.is_known(per_unit)
    if not known or not units.compatible(own, cancelled):
        rate = f"a rate per {own}" if term.sign == "*" else f"a rate such as {own}/min"
        turned = known and units.compatible(own, result)
        other = f"{'/' if term.sign == '*' else '*'} {format_value(term.factor, term.unit)}"
        context.add_problem(
            term.part_offsets[0],
            f"`{term.sign} {term.unit}` has no meaning for a number in {own}",
            f"a plain number, or {rate}",
            f"write `{other}`" if turned else "",
        )
        return None
    to_cancelled, _ = units.linear_conversion(own, cancelled, delta=True)
    factor = term.factor * to_cancelled if term.sign == "*" else to_cancelled / term.factor
    verb = "times" if term.sign == "*" else "divided by"
    label = f"{verb} {format_value(term.factor, term.unit)}"
    scaled = checked_tree.Scale(inner.term, factor, result, label)
    return MeasuredTerm(scaled, result, Nature.ABSOLUTE, term.offset)


def check_size(
    context: CheckContext, term: syntax.SizeExpr, inner: MeasuredTerm | None
) -> MeasuredTerm | None:
    """Check `size of (inner)`; None after a problem."""
    if inner is None:
        return None
    if inner.nature is Nature.ANGLE:
        hint = "write `x within 10 deg of y`, or the size of `change(x, 5 s)`"
        context.add_problem(term.offset, "a direction has no size", "a quantity", hint)
        return None
    if inner.nature is Nature.ABSOLUTE and is_temperature(inner.unit):
        context.add_problem(
            term.offset,
            "a temperature has no size",
            "a difference of temperatures",
            "write `size of (x - y)`",
        )
        return None
    return replace(inner, term=checked_tree.Size(inner.term, inner.unit or "1"), offset=term.offset)
