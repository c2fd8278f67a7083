"""Sums: what two numbers say when they are added or subtracted, or one is multiplied.

Temperatures and directions are the reason: two readings of a temperature do not add up, and the
difference of two directions depends on the way round.

Takes: checked terms.  Gives: `Measure`, or faults at the desk.
"""

from __future__ import annotations

from dataclasses import replace

from rules.language import checked, tree
from rules.language.check.names import Desk
from rules.language.check.units import Measure, Nature, common_unit, in_unit, is_temperature


def add(desk: Desk, term: tree.Sum, left: Measure, right: Measure) -> Measure | None:
    """`left + right` or `left - right`, in their common unit; None where a fault was noted."""
    unit = common_unit(desk, left, right)
    if unit is None:
        return None
    nature = _nature_of_sum(desk, term, left, right, temperature=is_temperature(unit))
    if nature is None:
        return None
    zeroless = _zeroless(left.nature, term.sign, right.nature)
    made = checked.Combine(
        in_unit(left, unit, delta=zeroless[0]),
        in_unit(right, unit, delta=zeroless[1]),
        1 if term.sign == "+" else -1,
        unit,
    )
    both_bare = left.bare and right.bare
    return Measure(made, "" if both_bare else unit, nature, term.at)


def _zeroless(left: Nature, sign: str, right: Nature) -> tuple[bool, bool]:
    """Which of the two is a difference: only of temperatures does it matter."""
    if left is right is Nature.READING or (left is Nature.NUMBER and right is Nature.READING and sign == "-"):
        return False, False
    apart = left is Nature.DIFFERENCE or (left is Nature.NUMBER and right is not Nature.NUMBER)
    return apart, right is not Nature.READING


_SUMS = {
    (Nature.READING, "-", Nature.READING): Nature.DIFFERENCE,
    (Nature.NUMBER, "-", Nature.READING): Nature.DIFFERENCE,
    (Nature.DIFFERENCE, "+", Nature.READING): Nature.READING,
    (Nature.NUMBER, "+", Nature.READING): Nature.READING,
    (Nature.NUMBER, "+", Nature.NUMBER): Nature.NUMBER,
    (Nature.NUMBER, "-", Nature.NUMBER): Nature.NUMBER,
}
_NO_SUMS = {(Nature.READING, "+", Nature.READING), (Nature.DIFFERENCE, "-", Nature.READING)}


def _nature_of_sum(
    desk: Desk, term: tree.Sum, left: Measure, right: Measure, *, temperature: bool
) -> Nature | None:
    """What a sum or difference says; notes a fault where it says nothing."""
    if Nature.ANGLE in (left.nature, right.nature):
        return _nature_of_turn(desk, term, left.nature, right.nature)
    key = (left.nature, term.sign, right.nature)
    if temperature and key in _NO_SUMS:
        desk.fault(
            term.at,
            "two temperatures do not add up",
            "a temperature and a difference",
            "write `x + 5 degC` or `x - y`",
        )
        return None
    if not temperature:
        return Nature.NUMBER if left.nature is right.nature is Nature.NUMBER else Nature.READING
    return _SUMS.get(key, left.nature if left.nature is not Nature.NUMBER else right.nature)


def _nature_of_turn(desk: Desk, term: tree.Sum, left: Nature, right: Nature) -> Nature | None:
    """A direction may be turned by a number of degrees; two directions neither add up nor subtract."""
    if left is right or (term.sign == "-" and right is Nature.ANGLE):
        desk.fault(
            term.at,
            f"`{term.sign}` between directions has no meaning",
            "one direction and a number of degrees",
            "write `x within 10 deg of y`",
        )
        return None
    return Nature.ANGLE


def scale(desk: Desk, term: tree.Scaled, inner: Measure | None) -> Measure | None:
    """`inner * factor` or `inner / factor`; None where a fault was noted."""
    factor = term.factor
    if factor == 0:
        what = "division by zero" if term.sign == "/" else "a multiple of zero is always zero"
        desk.fault(term.marks[0] if term.marks else term.at, what, "a number other than 0")
        return None
    if inner is None:
        return None
    if inner.nature is Nature.ANGLE:
        desk.fault(term.at, f"`{term.sign}` has no meaning for a direction", "a quantity")
        return None
    if inner.nature is Nature.READING and is_temperature(inner.unit):
        desk.fault(term.at, f"`{term.sign}` has no meaning for a temperature", "a difference of temperatures")
        return None
    made = checked.Scale(inner.term, factor if term.sign == "*" else 1 / factor, inner.unit or "1")
    return replace(inner, term=made, at=term.at)
