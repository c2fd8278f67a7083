"""Units at work: what a number says, and the one unit in which two numbers meet.

Takes: checked terms.  Gives: `Measure`, common units, times in seconds, or faults at the desk.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from rules.language import checked, tree
from rules.language.check.names import Desk
from rules.language.printer import digits
from rules.signals import units
from rules.signals.numbers import say

LONGEST_WINDOW_S = 6 * 3600.0
"""How far back a condition may look; longer than any of a flight's waits, short enough to be remembered."""


class Nature(StrEnum):
    """What a number says, where its unit alone does not tell."""

    NUMBER = "number"  # written in the condition, or a limit: becomes what it meets
    READING = "reading"  # what an instrument shows
    DIFFERENCE = "difference"  # how far apart two readings are; matters for temperatures
    ANGLE = "angle"  # a direction on the circle


@dataclass(frozen=True, slots=True)
class Measure:
    """A checked term; `unit` is '' for a number that was written without one."""

    term: checked.Term
    unit: str
    nature: Nature
    at: int

    @property
    def bare(self) -> bool:
        """Whether it is a number written without a unit."""
        return self.unit == ""


def known_unit(desk: Desk, at: int, unit: str, wanted: str = "") -> bool:
    """Whether a unit is one; notes a fault where not."""
    if units.known(unit):
        return True
    near = units.suggest(unit)
    expected = f"a unit that converts to {wanted}" if wanted else "a unit such as psi, kt or degC"
    desk.fault(at, f"unknown unit {unit}", expected, f"did you mean {near}?" if near else "")
    return False


def common_unit(desk: Desk, left: Measure, right: Measure) -> str | None:
    """The unit in which two terms meet: that of the reading, of two readings that of the left one.

    Returns:
        The unit, `1` for plain numbers, None where a fault was noted.
    """
    if left.bare or right.bare:
        return _with_bare(desk, left, right)
    turned = left.nature is Nature.NUMBER and right.nature is not Nature.NUMBER
    first, second = (right, left) if turned else (left, right)
    if (first.unit == "1") != (second.unit == "1"):
        plain, other = (first, second) if first.unit == "1" else (second, first)
        desk.fault(
            other.at, f"{_said(plain)} takes no unit", f"a number without {other.unit}", _bare_hint(other)
        )
        return None
    if not units.compatible(first.unit, second.unit):
        desk.fault(
            second.at, f"{second.unit} does not convert to {first.unit}", f"a unit such as {first.unit}"
        )
        return None
    return first.unit


def _with_bare(desk: Desk, left: Measure, right: Measure) -> str | None:
    """Where a number has no unit: the other side may have none either."""
    bare, other = (left, right) if left.bare else (right, left)
    if other.bare or other.unit == "1":
        return "1"
    value = bare.term.value if isinstance(bare.term, checked.Const) else 0.0
    desk.fault(
        bare.at,
        "a number without a unit",
        f"a unit such as {other.unit}",
        f"write `{digits(value)} {other.unit}`",
    )
    return None


def _said(measured: Measure) -> str:
    return measured.term.signal.name if isinstance(measured.term, checked.Read) else "this"


def _bare_hint(measured: Measure) -> str:
    term = measured.term
    return f"write `{digits(term.value)}`" if isinstance(term, checked.Const) and not term.label else ""


def in_unit(measured: Measure, unit: str, *, delta: bool = False) -> checked.Term:
    """A checked term said in a unit to which it converts.

    Args:
        measured: The term.
        unit: The wanted unit, `1` for none.
        delta: True where the term is a difference, so that no zero point moves it.

    Returns:
        The term in that unit.
    """
    term = measured.term
    own = measured.unit or "1"
    factor, offset = (1.0, 0.0) if own == unit else units.linear(own, unit, delta=delta)
    match term:
        case checked.Const(value, _, label):
            return checked.Const(value * factor + offset, unit, label)
        case checked.Read():
            return replace(term, factor=factor, offset=offset, unit=unit)
    if own == unit:
        return term
    scaled = checked.Scale(term, factor, unit)
    return checked.Combine(scaled, checked.Const(offset, unit), 1, unit) if offset else scaled


def is_temperature(unit: str) -> bool:
    """Whether a unit has a zero point that readings have and differences have not."""
    return units.compatible(unit or "1", "K")


def seconds_of(desk: Desk, span: tree.Number) -> float | None:
    """A stretch of time in seconds: more than none, at most `LONGEST_WINDOW_S`; notes a fault where not."""
    written = f"{digits(span.value)} s"
    if not span.unit:
        desk.fault(span.at, "a time without a unit", "s, min or h", f"write `{written}`")
        return None
    if not known_unit(desk, span.at, span.unit, "s"):
        return None
    if not units.compatible(span.unit, "s"):
        desk.fault(span.at, f"{span.unit} is no unit of time", "s, min or h", f"write `{written}`")
        return None
    seconds = units.seconds(span.value, span.unit)
    if seconds <= 0:
        desk.fault(span.at, "a time must be longer than nothing", "such as 2 s")
        return None
    if seconds > LONGEST_WINDOW_S:
        desk.fault(
            span.at,
            f"{say(span.value, span.unit)} is too far back",
            f"at most {say(LONGEST_WINDOW_S / 3600, 'h')}",
        )
        return None
    return seconds
