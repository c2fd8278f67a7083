"""Finds values of signals that make a comparison of numbers true or false.

The wrong value is as far beyond the limit as a crew's error often is: three times the tolerance, or a tenth of the limit.

Takes: a comparison, values that are right.  Gives: changes of signals.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rules.language import checked_tree as c
from rules.language.online.closures import ClosureBuilder
from rules.language.traversal import signals_in, walk
from rules.packs.model import Figure
from rules.signals.model import FIGURE_PREFIX, TRIP_PREFIX, Signal, SignalKind, Value

Comparison = c.Relation | c.Between | c.WithinTolerance
Change = Mapping[str, Value]

_SHARES = (-0.02, 0.02, -0.1, 0.1, -0.3, 0.3)
_TOLERANCES = 3.0
_SHARE_OF_LIMIT = 0.1
_SHARE_OF_RANGE = 0.02


def other_values(signal: Signal, right: Value) -> Iterator[Value]:
    """Other values of a signal: every other word, or numbers near and far on both sides."""
    if signal.kind is SignalKind.TEXT:
        yield "ZZZ"
    elif isinstance(right, str):
        yield from (word for word in signal.words if word != right)
    else:
        width = signal.high - signal.low
        near = (right + share * width for share in _SHARES)
        yield from (_valid(signal, value) for value in (*near, signal.low, signal.high))


def number_changes(
    condition: Comparison, values: Mapping[str, Value], figures: Mapping[str, Figure], *, want: bool
) -> Iterator[Change]:
    """Changes after which a comparison may have the wanted truth; none first, if it has it by the values.

    Args:
        condition: The comparison.
        values: Right values of all signals.
        figures: Figures of the pack, by the names of their signals.
        want: The wanted truth.
    """
    if _is_steady(condition) and ClosureBuilder(values.get, {}).decider(condition)() is want:
        yield {}
    for subject, wanted in _wanted_values(condition, values, want=want):
        present = _value(subject, values)
        if present is None:
            continue
        for signal, slope in _slopes(subject, values):
            if signal.name in figures or not slope:
                continue
            now = values.get(signal.name)
            if isinstance(now, float | int):
                yield {signal.name: _valid(signal, now + (wanted - present) / slope)}
    yield from _searched(condition, values, figures)


def _is_steady(condition: Comparison) -> bool:
    """True if a comparison reads present values only."""
    return not any(isinstance(node, c.Window | c.EventCount) for node in walk(condition))


def _searched(
    condition: Comparison, values: Mapping[str, Value], figures: Mapping[str, Figure]
) -> Iterator[Change]:
    """Other values of each signal, and of those from which a figure is computed; those of the trip sheet last."""
    names = {signal.name: signal for signal in signals_in(condition)}
    while any(name in figures for name in names):
        figure = figures[next(name for name in names if name in figures)]
        del names[figure.signal.name]
        inputs = [*signals_in(*figure.terms.values()), *figure.words.values()]
        names |= {signal.name: signal for signal in inputs}
    for name in sorted(names, key=lambda name: name.startswith(TRIP_PREFIX)):
        if name in values and not name.startswith(FIGURE_PREFIX):
            yield from ({name: other} for other in other_values(names[name], values[name]))


def _wanted_values(
    condition: Comparison, values: Mapping[str, Value], *, want: bool
) -> Iterator[tuple[c.Term, float]]:
    """Terms that may be changed, each with the value that it should have."""
    match condition:
        case c.WithinTolerance(term=term, tolerance=tolerance, target=target):
            goal, width = _value(target, values), _value(tolerance, values)
            if goal is not None and width is not None:
                off = _TOLERANCES * width if not want else 0.0
                yield from ((term, goal + off), (term, goal - off))
                present = _value(term, values)
                if present is not None:
                    yield from ((target, present + off), (target, present - off))
        case c.Between(term=term, low=low, high=high):
            ends = _value(low, values), _value(high, values)
            if ends[0] is not None and ends[1] is not None:
                middle, off = (ends[0] + ends[1]) / 2, max(ends[1] - ends[0], 1e-3) * 0.75
                yield from ((term, middle),) if want else ((term, middle - off), (term, middle + off))
        case c.Relation(left=left, op=op, right=right):
            yield from _beyond(left, right, _NEGATED[op] if not want else op, values)
            yield from _beyond(right, left, _MIRRORED[_NEGATED[op] if not want else op], values)


def _beyond(
    term: c.Term, limit: c.Term, op: str, values: Mapping[str, Value]
) -> Iterator[tuple[c.Term, float]]:
    """The value that fulfils `term op limit` clearly."""
    goal = _value(limit, values)
    if goal is None or isinstance(term, c.Constant):
        return
    signal = next((s for s, _ in _slopes(term, values)), None)
    width = signal.high - signal.low if signal is not None else 0.0
    off = max(abs(goal) * _SHARE_OF_LIMIT, width * _SHARE_OF_RANGE)
    for sign in {"=": (0.0,), "!=": (1.0, -1.0)}.get(op, (1.0,) if op in (">", ">=") else (-1.0,)):
        yield term, goal + sign * off


_NEGATED = {"=": "!=", "!=": "=", "<": ">=", ">=": "<", ">": "<=", "<=": ">"}
_MIRRORED = {"=": "=", "!=": "!=", "<": ">", ">": "<", "<=": ">=", ">=": "<="}


def _value(term: c.Term, values: Mapping[str, Value]) -> float | None:
    """Value of a term in a state that does not change."""
    match term:
        case c.Window(function=function, term=inner):
            return 0.0 if function in ("change", "rate") else _value(inner, values)
        case c.EventCount():
            return 0.0
        case c.Sum(left=left, right=right, sign=sign):
            a, b = _value(left, values), _value(right, values)
            return None if a is None or b is None else a + sign * b
        case c.Scale(term=inner, factor=factor):
            a = _value(inner, values)
            return None if a is None else a * factor
        case c.Size(term=inner):
            a = _value(inner, values)
            return None if a is None else abs(a)
        case c.Among(function=function, terms=terms):
            every = [one for each in terms if (one := _value(each, values)) is not None]
            return _among(function, every) if every else None
    return ClosureBuilder(values.get, {}).reader(term)()


def _among(function: str, numbers: list[float]) -> float:
    """Highest, lowest or average of some numbers."""
    if function == "average":
        return sum(numbers) / len(numbers)
    return max(numbers) if function == "highest" else min(numbers)


def _slopes(term: c.Term, values: Mapping[str, Value]) -> list[tuple[Signal, float]]:
    """Signals of the aeroplane that a term reads, with the change of the term for a change of the signal by 1."""
    match term:
        case c.SignalValue(signal=signal, factor=factor):
            return [] if signal.name.startswith(TRIP_PREFIX) else [(signal, factor)]
        case c.Sum(left=left, right=right, sign=sign):
            return _slopes(left, values) + [(s, sign * k) for s, k in _slopes(right, values)]
        case c.Scale(term=inner, factor=factor):
            return [(s, factor * k) for s, k in _slopes(inner, values)]
        case c.Size(term=inner):
            side = -1.0 if (_value(inner, values) or 0.0) < 0 else 1.0
            return [(s, side * k) for s, k in _slopes(inner, values)]
        case c.Among(terms=terms):
            return [pair for each in terms for pair in _slopes(each, values)]
        case c.Window(function=function, term=inner, seconds=seconds):
            share = 1.0 / seconds if function == "rate" else 1.0
            return [(s, share * k) for s, k in _slopes(inner, values)]
    return []


def _valid(signal: Signal, value: float) -> float:
    """Nearest value that a signal can have."""
    if signal.kind is SignalKind.ANGLE:
        return value % 360.0
    inside = max(signal.low, min(signal.high, value))
    return float(round(inside)) if signal.kind is SignalKind.COUNT else inside
