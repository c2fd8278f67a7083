"""Terms: numbers over time, checked so that everything that meets is in one unit.

Takes: terms as written.  Gives: `Measure`, a checked term with its unit and nature, or faults at the desk.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

from rules.language import checked, tree
from rules.language.check_names import Desk
from rules.language.scope import Limit
from rules.signals import units
from rules.signals.model import Kind
from rules.signals.numbers import say

LONGEST_WINDOW_S = 6 * 3600.0
"""How far back a condition may look; longer than any of a flight's waits, short enough to be remembered."""

Events: TypeAlias = Callable[[Desk, tree.Event], checked.Event | None]
"""How a `count` has its event checked."""


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


def measure(desk: Desk, term: tree.Term, events: Events) -> Measure | None:
    """Check a term.

    Args:
        desk: Where faults are noted.
        term: As written.
        events: What checks the event of a `count`.

    Returns:
        The term and its unit, None where a fault was noted.
    """
    match term:
        case tree.Number():
            return _number(desk, term)
        case tree.Name():
            return _name(desk, term)
        case tree.Sum():
            return _sum(desk, term, events)
        case tree.Scaled():
            return _scaled(desk, term, events)
        case tree.Window():
            return _window(desk, term, events)
        case tree.CountOf():
            return _count(desk, term, events)


def _number(desk: Desk, number: tree.Number) -> Measure | None:
    if not known_unit(desk, number.at, number.unit):
        return None
    return Measure(checked.Const(number.value, number.unit or "1"), number.unit, Nature.NUMBER, number.at)


def known_unit(desk: Desk, at: int, unit: str, wanted: str = "") -> bool:
    """Whether a unit is one; notes a fault where not."""
    if units.known(unit):
        return True
    near = units.suggest(unit)
    expected = f"a unit that converts to {wanted}" if wanted else "a unit such as psi, kt or degC"
    desk.fault(at, f"unknown unit {unit}", expected, f"did you mean {near}?" if near else "")
    return False


def _name(desk: Desk, name: tree.Name) -> Measure | None:
    source = desk.number_source(name)
    if source is None:
        return None
    unit = source.unit or "1"
    if isinstance(source, Limit):
        return Measure(checked.Const(source.value, unit, source.label), unit, Nature.NUMBER, name.at)
    nature = Nature.ANGLE if source.kind is Kind.ANGLE else Nature.READING
    return Measure(checked.Read(source, unit=unit), unit, nature, name.at)


# -- two numbers that meet ---------------------------------------------------------------------------


def common_unit(desk: Desk, left: Measure, right: Measure) -> str | None:
    """The unit in which two terms meet: that of the reading, of two readings that of the left one.

    Returns:
        The unit, `1` for plain numbers, None where a fault was noted.
    """
    if left.bare or right.bare:
        return _with_bare(desk, left, right)
    first, second = (right, left) if left.nature is Nature.NUMBER else (left, right)
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
        f"write `{say(value, '')} {other.unit}`",
    )
    return None


def _said(measured: Measure) -> str:
    return measured.term.signal.name if isinstance(measured.term, checked.Read) else "a plain number"


def _bare_hint(measured: Measure) -> str:
    term = measured.term
    return f"write `{say(term.value, '')}`" if isinstance(term, checked.Const) and not term.label else ""


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


# -- arithmetic --------------------------------------------------------------------------------------


def _sum(desk: Desk, term: tree.Sum, events: Events) -> Measure | None:
    left, right = measure(desk, term.left, events), measure(desk, term.right, events)
    if left is None or right is None:
        return None
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


def _scaled(desk: Desk, term: tree.Scaled, events: Events) -> Measure | None:
    inner = measure(desk, term.term, events)
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


# -- windows -------------------------------------------------------------------------------------------


def _window(desk: Desk, term: tree.Window, events: Events) -> Measure | None:
    inner, seconds = measure(desk, term.term, events), seconds_of(desk, term.span)
    if inner is None or seconds is None:
        return None
    extreme = term.function in ("highest", "lowest")
    if inner.nature is Nature.ANGLE and (extreme or not isinstance(inner.term, checked.Read)):
        what = f"{term.function} has no meaning on a circle"
        desk.fault(
            term.at, what, "a quantity", "write `change(x, 5 s)` or `rate(x, 5 s)` of a direction itself"
        )
        return None
    unit = inner.unit or "1"
    if term.function == "rate":
        unit = f"{unit}/s"
    nature = inner.nature if extreme else Nature.DIFFERENCE if term.function == "change" else Nature.READING
    return Measure(checked.Windowed(term.function, inner.term, seconds, unit), unit, nature, term.at)


def _count(desk: Desk, term: tree.CountOf, events: Events) -> Measure | None:
    event, seconds = events(desk, term.event), seconds_of(desk, term.span)
    if event is None or seconds is None:
        return None
    return Measure(checked.Count(event, seconds), "1", Nature.READING, term.at)


def seconds_of(desk: Desk, span: tree.Number) -> float | None:
    """A stretch of time in seconds: more than none, at most `LONGEST_WINDOW_S`; notes a fault where not."""
    written = f"{say(span.value, '')} s"
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
