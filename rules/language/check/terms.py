"""Terms: numbers over time, checked so that everything that meets is in one unit.

Takes: terms as written.  Gives: `Measure`, a checked term with its unit and nature, or faults at the desk.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from rules.language import checked, tree
from rules.language.check.names import Desk
from rules.language.check.sums import add, scale
from rules.language.check.units import Measure, Nature, known_unit, seconds_of
from rules.language.scope import Limit
from rules.signals.model import Kind

Events: TypeAlias = Callable[[Desk, tree.Event], checked.Event | None]
"""How a `count` has its event checked."""


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
            left, right = measure(desk, term.left, events), measure(desk, term.right, events)
            return None if left is None or right is None else add(desk, term, left, right)
        case tree.Scaled():
            return scale(desk, term, measure(desk, term.term, events))
        case tree.Window():
            return _window(desk, term, events)
        case tree.CountOf():
            return _count(desk, term, events)


def _number(desk: Desk, number: tree.Number) -> Measure | None:
    if not known_unit(desk, number.at, number.unit):
        return None
    return Measure(checked.Const(number.value, number.unit or "1"), number.unit, Nature.NUMBER, number.at)


def _name(desk: Desk, name: tree.Name) -> Measure | None:
    source = desk.number_source(name)
    if source is None:
        return None
    unit = source.unit or "1"
    if isinstance(source, Limit):
        return Measure(checked.Const(source.value, unit, source.label), unit, Nature.NUMBER, name.at)
    nature = Nature.ANGLE if source.kind is Kind.ANGLE else Nature.READING
    return Measure(checked.Read(source, unit=unit), unit, nature, name.at)


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
