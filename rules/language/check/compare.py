"""Comparisons: two numbers, a range, a tolerance, a sweep; on the line and on the circle.

Takes: comparisons as written.  Gives: checked ones in one unit, or faults at the desk.
"""

from __future__ import annotations

from rules.language import checked, tree
from rules.language.check.lines import FULL_CIRCLE_DEG, bounds
from rules.language.check.names import Desk, kind_of
from rules.language.check.terms import Events, measure
from rules.language.check.units import Measure, Nature, common_unit, in_unit, is_temperature, known_unit
from rules.language.printer import digits
from rules.signals import units
from rules.signals.numbers import say


def compare(desk: Desk, node: tree.Compare, events: Events) -> checked.Condition | None:
    """`left op right`."""
    if _of_words(desk, node, events):
        return None
    left, right = measure(desk, node.left, events), measure(desk, node.right, events)
    if left is None or right is None:
        return None
    unit = _meet(desk, left, right)
    if unit is None:
        return None
    circle = Nature.ANGLE in (left.nature, right.nature)
    if circle and node.op not in ("=", "!="):
        desk.fault(
            node.at,
            f"`{node.op}` has no meaning on a circle",
            "`=`, `in` or `within`",
            "write `x in 350..10 deg`, clockwise",
        )
        return None
    one, other = _said_in(left, right, unit)
    return checked.Relation(one, node.op, other, circle)


def _of_words(desk: Desk, node: tree.Compare, events: Events) -> bool:
    """Whether a side is a signal with words; notes the faults of the whole comparison then."""
    for name, other in ((node.left, node.right), (node.right, node.left)):
        if not isinstance(name, tree.Name):
            continue
        signal = desk.scope.signals.get(desk.full(name.path))
        if signal is None or signal.numeric:
            continue
        word = (
            desk.full(other.path)
            if isinstance(other, tree.Name)
            else str(getattr(other, "value", "")).removesuffix(".0")
        )
        fits = word in signal.words or word in desk.scope.signals
        said = word if fits else signal.words[-1] if signal.words else "WORD"
        link = "is not" if node.op == "!=" else "is"
        desk.fault(
            node.at,
            f"`{node.op}` does not compare {kind_of(signal)}",
            f"`{link}`",
            f"write `{signal.name} {link} {said}`",
        )
        if not fits and not isinstance(other, tree.Number):
            measure(desk, other, events)
        return True
    return False


def in_range(desk: Desk, node: tree.InRange, events: Events) -> checked.Condition | None:
    """`term in low..high unit`."""
    term = measure(desk, node.term, events)
    limits = _limits(desk, node, node.low, node.high, node.unit, term)
    if term is None or limits is None:
        return None
    circle = term.nature is Nature.ANGLE
    low, high = limits
    if circle and low != high and (high - low) % FULL_CIRCLE_DEG == 0:
        desk.fault(node.marks[0], "the range is the whole circle", "a part of it")
        return None
    if not circle and low > high:
        turned = f"{digits(node.high)}..{digits(node.low)} {node.unit}".rstrip()
        desk.fault(node.marks[0], "the range runs backwards", "the lower end first", f"write `{turned}`")
        return None
    return checked.Between(term.term, low, high, circle)


def _limits(
    desk: Desk, node: tree.InRange | tree.Swept, low: float, high: float, unit: str, term: Measure | None
) -> tuple[float, float] | None:
    """Both ends in the term's unit; notes a fault where they do not convert or are no directions."""
    if not known_unit(desk, node.marks[1], unit, term.unit if term else "") or term is None:
        return None
    ends = [
        Measure(checked.Const(end, unit or "1"), unit, Nature.NUMBER, at)
        for end, at in zip((low, high), node.marks, strict=True)
    ]
    wanted = common_unit(desk, term, ends[1])
    if wanted is None or not all(_direction(desk, term, end) for end in ends):
        return None
    delta = term.nature is Nature.DIFFERENCE
    first, second = (_value(in_unit(end, wanted, delta=delta)) for end in ends)
    return first, second


def _value(term: checked.Term) -> float:
    assert isinstance(term, checked.Const)  # noqa: S101 - a number stays one; our own mistake otherwise
    return term.value


def near(desk: Desk, node: tree.Near, events: Events) -> checked.Condition | None:
    """`term within tolerance of target`."""
    term, target = measure(desk, node.term, events), measure(desk, node.target, events)
    tolerance = measure(desk, node.tolerance, events)
    if term is None or target is None or tolerance is None:
        return None
    unit = _meet(desk, term, target)
    if unit is None or common_unit(desk, _reading(term, unit), tolerance) is None:
        return None
    circle = Nature.ANGLE in (term.nature, target.nature)
    width = _value(in_unit(tolerance, unit, delta=True))
    if not _sound(desk, node.tolerance, width, circle=circle):
        return None
    one, other = _said_in(term, target, unit)
    return checked.Close(one, width, other, circle)


def _reading(term: Measure, unit: str) -> Measure:
    """A stand-in that wants this unit."""
    return Measure(term.term, unit, Nature.READING, term.at)


def _sound(desk: Desk, tolerance: tree.Number, width: float, *, circle: bool) -> bool:
    """Whether a tolerance can make a difference."""
    if width < 0:
        desk.fault(tolerance.at, "a tolerance below zero", "a positive number")
    elif width == 0:
        desk.fault(tolerance.at, "a tolerance of zero", "a positive number", "write `=`")
    elif circle and width >= FULL_CIRCLE_DEG / 2:
        desk.fault(tolerance.at, "every direction is within that", "less than 180 deg")
    return width > 0 and not (circle and width >= FULL_CIRCLE_DEG / 2)


def sweep(desk: Desk, node: tree.Swept, events: Events) -> checked.Event | None:
    """`term swept low..high unit`."""
    term = measure(desk, node.term, events)
    limits = _limits(desk, node, node.low, node.high, node.unit, term)
    if term is None or limits is None:
        return None
    if term.nature is Nature.ANGLE:
        desk.fault(node.at, "a direction has no ends to sweep between", "a quantity")
        return None
    low, high = limits
    if low >= high:
        desk.fault(node.marks[0], "the range runs backwards", "the lower end first")
        return None
    least, most = bounds(term.term)
    if low < least or high > most:
        reach = f"{digits(least)}..{digits(most)} {term.unit}"
        desk.fault(
            node.marks[0] if low < least else node.marks[1], "this end is never reached", f"within {reach}"
        )
        return None
    return checked.Sweep(term.term, low, high)


# -- two numbers that meet ---------------------------------------------------------------------------


def _meet(desk: Desk, left: Measure, right: Measure) -> str | None:
    """The unit in which two sides of a comparison meet; notes a fault where they do not."""
    unit = common_unit(desk, left, right)
    if unit is None:
        return None
    natures = {left.nature, right.nature} - {Nature.NUMBER}
    if Nature.ANGLE in natures and len(natures) > 1:
        desk.fault(right.at, "a direction does not compare with a plain number of degrees", "two directions")
        return None
    if is_temperature(unit) and natures == {Nature.READING, Nature.DIFFERENCE}:
        desk.fault(
            right.at, "a temperature does not compare with a difference of temperatures", "two of a kind"
        )
        return None
    sound = [_direction(desk, one, other) for one, other in ((left, right), (right, left))]
    return unit if all(sound) else None


def _direction(desk: Desk, beside: Measure, number: Measure) -> bool:
    """Whether a number that meets a direction is one, 0 to 360 deg."""
    if beside.nature is not Nature.ANGLE or not isinstance(number.term, checked.Const) or number.bare:
        return True
    value = number.term.value
    if 0 <= units.convert(value, number.unit, "deg") <= FULL_CIRCLE_DEG:
        return True
    desk.fault(
        number.at,
        f"{say(value, number.unit)} is no direction",
        "0 to 360 deg",
        f"write `{digits(value % FULL_CIRCLE_DEG)} deg`",
    )
    return False


def _said_in(left: Measure, right: Measure, unit: str) -> tuple[checked.Term, checked.Term]:
    """Both sides in one unit; differences without a zero point."""
    delta = Nature.DIFFERENCE in (left.nature, right.nature)
    return in_unit(left, unit, delta=delta), in_unit(right, unit, delta=delta)
