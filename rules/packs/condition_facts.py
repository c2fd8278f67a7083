"""Facts about the conditions of a pack: the signals that they read, the calls that they wait for, their limits.

Screens, the debrief and the judge ask here, so that none of them walks the checked tree itself.

Takes: conditions of a loaded pack; None stands for no condition.  Gives: names, and `ConditionLimit`s.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from rules.language import checked_tree as c
from rules.language.traversal import CheckedNode, signal_names, signals_in, walk
from rules.signals.model import TRIP_PREFIX, SignalKind, Value
from rules.signals.number_format import format_value

_CHOICE_WORDS = 3


@dataclass(frozen=True, slots=True)
class ConditionLimit:
    """Constant with which a condition compares a signal, in the signal's own unit."""

    signal: str
    value: float
    label: str


def signals_read(*conditions: CheckedNode | None) -> frozenset[str]:
    """Names of all signals that these conditions read."""
    return frozenset(signal_names(*(node for node in conditions if node is not None)))


def value_signals(condition: c.Condition | None) -> frozenset[str]:
    """Signals that a condition compares with a value, or with one of three or more words.

    A heading that must be 140 degrees is set to a value; a switch that must be on is not.
    """
    found: set[str] = set()
    for part in walk(condition):
        if _compares_value(part):
            found |= signals_read(part)
    return frozenset(found)


def call_titles(condition: c.Condition | None) -> tuple[str, ...]:
    """Titles of the calls in a condition, in the order of the text."""
    return tuple(dict.fromkeys(part.label for part in walk(condition) if isinstance(part, c.CallEvent)))


def calls_awaited(*conditions: c.Condition | None) -> frozenset[str]:
    """Ids of the calls for which these conditions wait."""
    return frozenset(part.name for part in walk(*conditions) if isinstance(part, c.CallEvent))


def reads_only_values(condition: c.Condition) -> bool:
    """True if a condition depends on values alone: not on a call, on another item, or on a fault of the pack."""
    others = c.ItemMet | c.CallEvent | c.FaultyCondition
    return not any(isinstance(node, others) for node in walk(condition))


def compared_signals(condition: c.Condition | None) -> tuple[str, ...]:
    """Subjects of the comparisons of a condition; those of parts that only say when it applies do not count.

    In `speeds.v2 = trip.v2 if flight.on_ground is yes` the subject is `speeds.v2`.
    """
    return tuple(dict.fromkeys(_compared(condition)))


def limits_in(condition: c.Condition | None, constants: Mapping[str, Value]) -> tuple[ConditionLimit, ...]:
    """Constant values with which a condition compares signals, without those of an excuse or of an `if`.

    Args:
        condition: The condition.
        constants: Values of signals that count as constants: the trip sheet, and signals that did not change.
    """
    required = _required_nodes(condition)
    return tuple(dict.fromkeys(limit for node in required for limit in _limits_of(node, constants)))


def _required_nodes(condition: c.Condition | None) -> Iterator[CheckedNode]:
    """Each node that says what must be, in the order in which they were written."""
    match condition:
        case None:
            return
        case c.Unless(part=required) | c.Implies(then=required):
            yield from _required_nodes(required)
        case c.And(parts=parts) | c.Or(parts=parts):
            for part in parts:
                yield from _required_nodes(part)
        case _:
            yield from walk(condition)


def _compares_value(part: CheckedNode) -> bool:
    """True if this node compares with a value."""
    if isinstance(part, c.Relation):
        return part.op == "="
    if isinstance(part, c.WordIs):
        return len(part.signal.words) >= _CHOICE_WORDS or part.signal.kind is SignalKind.TEXT
    return isinstance(part, c.Between | c.WithinTolerance | c.SameWord)


def _compared(condition: c.Condition | None) -> Iterator[str]:
    match condition:
        case c.Relation():
            yield from _names(condition.left)
        case c.Between() | c.WithinTolerance():
            yield from _names(condition.term)
        case c.WordIs():
            yield condition.signal.name
        case c.SameWord():
            yield condition.left.name
        case c.And() | c.Or() | c.NumberOf():
            for part in condition.parts:
                yield from _compared(part)
        case c.Implies():
            yield from _compared(condition.then)
        case c.Not() | c.TimedHistorically() | c.Unless():
            yield from _compared(condition.part)
        case c.Deadline(part=part) if not isinstance(part, c.Event):
            yield from _compared(part)


def _names(term: c.Term) -> Iterable[str]:
    return (signal.name for signal in signals_in(term))


def _limits_of(part: CheckedNode, constants: Mapping[str, Value]) -> Iterator[ConditionLimit]:
    """Limits that one node of a condition sets."""
    match part:
        case c.Relation(left=left, right=right):
            yield from _limit_beside(left, right, constants)
            yield from _limit_beside(right, left, constants)
        case c.Between(term=c.SignalValue() as read, low=low, high=high):
            for end in (low, high):
                yield from _limit_beside(read, end, constants)
        case c.WithinTolerance(term=c.SignalValue() as read, tolerance=tolerance, target=target):
            limit, width = _constant_term(target, constants), _constant_term(tolerance, constants)
            if limit is not None and width is not None:
                name = limit[1]
                yield _limit(read, limit[0] - width[0], f"{name} less the tolerance" if name else "")
                yield _limit(read, limit[0] + width[0], f"{name} plus the tolerance" if name else "")


def _limit_beside(term: c.Term, other: c.Term, constants: Mapping[str, Value]) -> Iterator[ConditionLimit]:
    """Limit from a relation between a signal of the aeroplane and a constant term."""
    limit = _constant_term(other, constants)
    if isinstance(term, c.SignalValue) and not term.signal.name.startswith(TRIP_PREFIX) and limit is not None:
        yield _limit(term, *limit)


def _limit(read: c.SignalValue, value: float, label: str) -> ConditionLimit:
    """Convert a value from the unit of the comparison to the signal's own unit."""
    own = (value - read.offset) / read.factor
    return ConditionLimit(read.signal.name, own, label or format_value(own, read.signal.unit))


def _constant_term(term: c.Term, constants: Mapping[str, Value]) -> tuple[float, str] | None:
    """Value and label of a term that does not change in flight; None for any other term."""
    match term:
        case c.Constant(value=value, label=label):
            return value, label
        case c.SignalValue(signal=signal) if isinstance(constants.get(signal.name), float | int):
            return float(constants[signal.name]) * term.factor + term.offset, signal.label
        case c.Sum(left=left, right=right, sign=sign):
            first, second = _constant_term(left, constants), _constant_term(right, constants)
            if first is None or second is None:
                return None
            return first[0] + sign * second[0], _joined_label(term, first[1], second, sign)
        case c.Scale(term=inner, factor=factor):
            constant = _constant_term(inner, constants)
            return (constant[0] * factor, constant[1]) if constant else None
        case c.Size(term=inner):
            constant = _constant_term(inner, constants)
            return (abs(constant[0]), constant[1]) if constant else None
    return None


def _joined_label(term: c.Sum, name: str, second: tuple[float, str], sign: int) -> str:
    """Label of a sum, such as `VREF plus 20 kt`; '' if the first term is a plain number."""
    other = second[1] or format_value(second[0], term.unit)
    if not name:
        return ""
    return f"{name} {'plus' if sign > 0 else 'less'} {other}"
