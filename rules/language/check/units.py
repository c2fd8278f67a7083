"""Units of terms: the nature of a number, and the common unit of two numbers.

Takes: checked terms.  Gives: `MeasuredTerm`, common units, times in seconds, or problems in the `CheckContext`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext
from rules.signals import units
from rules.signals.number_format import format_value, shortest_digits

MAX_LOOK_BACK_S = 6 * 3600.0
"""Maximum look-back of a condition in seconds; longer than any wait of a flight, short enough to be stored."""


class Nature(StrEnum):
    """Nature of a number, where its unit is not enough."""

    NUMBER = "number"  # written in the condition, or a limit: takes the nature of the other side
    ABSOLUTE = "reading"  # the reading of an instrument
    DIFFERENCE = "difference"  # the difference of two readings; matters for temperatures
    ANGLE = "angle"  # a direction on the circle


@dataclass(frozen=True, slots=True)
class MeasuredTerm:
    """Checked term; `unit` is '' for a number that was written without one."""

    term: checked_tree.Term
    unit: str
    nature: Nature
    offset: int

    @property
    def is_unitless(self) -> bool:
        """True for a number written without a unit."""
        return self.unit == ""


def check_unit(context: CheckContext, at: int, unit: str, wanted: str = "") -> bool:
    """Check that a unit is known; a problem where it is not."""
    if units.is_known(unit):
        return True
    expected = f"a unit that converts to {wanted}" if wanted else "a unit such as psi, kt or degC"
    context.add_problem(at, f"unknown unit {unit}", expected, units.unit_hint(unit))
    return False


def common_unit(context: CheckContext, left: MeasuredTerm, right: MeasuredTerm) -> str | None:
    """Give the common unit of two terms: that of the reading, of two readings that of the left one.

    Returns:
        The unit, `1` for plain numbers, None after a problem.
    """
    if left.is_unitless or right.is_unitless:
        return _unit_beside_unitless(context, left, right)
    swapped = left.nature is Nature.NUMBER and right.nature is not Nature.NUMBER
    first, second = (right, left) if swapped else (left, right)
    if (first.unit == "1") != (second.unit == "1"):
        plain, other = (first, second) if first.unit == "1" else (second, first)
        context.add_problem(
            other.offset,
            f"{_describe(plain)} takes no unit",
            f"a number without {other.unit}",
            _unitless_hint(other),
        )
        return None
    if not units.compatible(first.unit, second.unit):
        context.add_problem(
            second.offset, f"{second.unit} does not convert to {first.unit}", f"a unit such as {first.unit}"
        )
        return None
    return first.unit


def _unit_beside_unitless(context: CheckContext, left: MeasuredTerm, right: MeasuredTerm) -> str | None:
    """Refuse a number without a unit beside one with a unit."""
    bare, other = (left, right) if left.is_unitless else (right, left)
    if other.is_unitless or other.unit == "1":
        return "1"
    value = bare.term.value if isinstance(bare.term, checked_tree.Constant) else 0.0
    context.add_problem(
        bare.offset,
        "a number without a unit",
        f"a unit such as {other.unit}",
        f"write `{shortest_digits(value)} {other.unit}`",
    )
    return None


def _describe(measured: MeasuredTerm) -> str:
    return measured.term.signal.name if isinstance(measured.term, checked_tree.SignalValue) else "this"


def _unitless_hint(measured: MeasuredTerm) -> str:
    term = measured.term
    return (
        f"write `{shortest_digits(term.value)}`"
        if isinstance(term, checked_tree.Constant) and not term.label
        else ""
    )


def in_unit(measured: MeasuredTerm, unit: str, *, delta: bool = False) -> checked_tree.Term:
    """Convert a checked term to a compatible unit.

    Args:
        measured: The term.
        unit: The wanted unit, `1` for none.
        delta: True where the term is a difference, which has no zero point.

    Returns:
        The term in that unit.
    """
    term = measured.term
    own = measured.unit or "1"
    factor, offset = (1.0, 0.0) if own == unit else units.linear_conversion(own, unit, delta=delta)
    match term:
        case checked_tree.Constant(value, _, label):
            return checked_tree.Constant(value * factor + offset, unit, label)
        case checked_tree.SignalValue():
            return replace(term, factor=factor, offset=offset, unit=unit)
    if own == unit:
        return term
    scaled = checked_tree.Scale(term, factor, unit)
    return checked_tree.Sum(scaled, checked_tree.Constant(offset, unit), 1, unit) if offset else scaled


def is_temperature(unit: str) -> bool:
    """Check for a unit with a zero point that readings have and differences have not."""
    return units.compatible(unit or "1", "K")


def check_seconds(context: CheckContext, span: syntax.NumberExpr) -> float | None:
    """Convert a time to seconds, more than 0 and at most `MAX_LOOK_BACK_S`; a problem otherwise."""
    written = f"{shortest_digits(span.value)} s"
    if not span.unit:
        context.add_problem(span.offset, "a time without a unit", "s, min or h", f"write `{written}`")
        return None
    if not check_unit(context, span.offset, span.unit, "s"):
        return None
    if not units.compatible(span.unit, "s"):
        context.add_problem(
            span.offset, f"{span.unit} is no unit of time", "s, min or h", f"write `{written}`"
        )
        return None
    seconds = units.to_seconds(span.value, span.unit)
    if seconds <= 0:
        context.add_problem(span.offset, "a duration must be more than 0", "such as 2 s")
        return None
    if seconds > MAX_LOOK_BACK_S:
        context.add_problem(
            span.offset,
            f"the window is longer than {format_value(MAX_LOOK_BACK_S / 3600, 'h')}",
            f"at most {format_value(MAX_LOOK_BACK_S / 3600, 'h')}",
        )
        return None
    return seconds
