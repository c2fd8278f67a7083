"""Units of the sides of a comparison: which two numbers can be compared, and in which unit.

Takes: checked terms.  Gives: their common unit, or problems in the `CheckContext`.
"""

from __future__ import annotations

from rules.language import checked_tree
from rules.language.check.context import CheckContext
from rules.language.check.units import MeasuredTerm, Nature, common_unit, in_unit, is_temperature
from rules.signals import units
from rules.signals.equality import FULL_CIRCLE_DEG
from rules.signals.number_format import format_value, shortest_digits


def comparison_unit(context: CheckContext, left: MeasuredTerm, right: MeasuredTerm) -> str | None:
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
    sound = [check_direction(context, one, other) for one, other in ((left, right), (right, left))]
    return unit if all(sound) else None


def check_direction(context: CheckContext, reference: MeasuredTerm, number: MeasuredTerm) -> bool:
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


def in_common_unit(
    left: MeasuredTerm, right: MeasuredTerm, unit: str
) -> tuple[checked_tree.Term, checked_tree.Term]:
    """Convert both sides to one unit; differences without a zero point."""
    delta = Nature.DIFFERENCE in (left.nature, right.nature)
    return in_unit(left, unit, delta=delta), in_unit(right, unit, delta=delta)
