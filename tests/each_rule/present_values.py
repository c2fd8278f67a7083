"""Truth of conditions on the present values alone: what looks back counts as steady, or is unknown.

Takes: values by signal name.  Gives: `PresentValues`.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable, Mapping
from functools import cached_property

from rules.judge.judge import compute_figures
from rules.language import checked_tree as c
from rules.language.truth import Truth
from rules.packs.model import Pack
from rules.signals.model import FIGURE_PREFIX, Value

_TESTS: Mapping[str, Callable[[float, float], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
    "=": operator.eq,
    "!=": operator.ne,
}
_AMONG: Mapping[str, Callable[[list[float]], float]] = {
    "highest": max,
    "lowest": min,
    "average": lambda values: sum(values) / len(values),
}


class PresentValues:
    """Values of the signals and of the trip sheet at one moment, with the figures that follow from them."""

    def __init__(self, pack: Pack, values: Mapping[str, Value]) -> None:
        self.pack = pack
        self._values = values

    def with_values(self, changed: Mapping[str, Value]) -> PresentValues:
        """The same moment with other values of some signals."""
        return PresentValues(self.pack, {**self._values, **changed})

    @cached_property
    def _figures(self) -> Mapping[str, Value]:
        return {figure.signal.name: figure.value for figure in compute_figures(self.pack, self._values)}

    def value(self, name: str) -> Value | None:
        """Value of a signal or figure; None if it has none."""
        return (self._figures if name.startswith(FIGURE_PREFIX) else self._values).get(name)

    def number(self, term: c.Term) -> float | None:
        """Value of a term in its unit, as if all had been steady for long; None where it is unknown."""
        match term:
            case c.Constant(value=value):
                return value
            case c.SignalValue(signal=signal):
                known = self.value(signal.name)
                return None if known is None or isinstance(known, str) else known * term.factor + term.offset
            case c.Sum(left=left, right=right, sign=sign):
                first, second = self.number(left), self.number(right)
                return None if first is None or second is None else first + sign * second
            case c.Scale(term=inner, factor=factor):
                number = self.number(inner)
                return None if number is None else number * factor
            case c.Size(term=inner):
                number = self.number(inner)
                return None if number is None else abs(number)
            case c.Among(function=function, terms=terms):
                numbers = [self.number(each) for each in terms]
                known_numbers = [number for number in numbers if number is not None]
                return _AMONG[function](known_numbers) if len(known_numbers) == len(numbers) else None
            case c.Window(function=function, term=inner):
                return 0.0 if function in ("change", "rate") else self.number(inner)
        return 0.0

    def truth(self, condition: c.Condition) -> Truth:
        """Truth of a condition; None for what depends on the past, on calls or on other items."""
        match condition:
            case c.WordIs(signal=signal, words=words, negated=negated):
                word = self.value(signal.name)
                return None if word is None else (word in words) is not negated
            case c.SameWord(left=left, right=right, negated=negated):
                words_now = self.value(left.name), self.value(right.name)
                return None if None in words_now else (words_now[0] == words_now[1]) is not negated
            case c.Relation(left=left_term, op=op, right=right_term):
                first, second = self.number(left_term), self.number(right_term)
                return None if first is None or second is None else _TESTS[op](first, second)
            case c.Between() | c.WithinTolerance():
                return self._in_range(condition)
        return self._joined(condition)

    def _joined(self, condition: c.Condition) -> Truth:
        """Truth of what logic connects."""
        match condition:
            case c.Not(part=part):
                return _negated(self.truth(part))
            case c.And(parts=parts):
                return _all(map(self.truth, parts))
            case c.Or(parts=parts):
                return _negated(_all(_negated(self.truth(part)) for part in parts))
            case c.Implies(when=when, then=then):
                return _negated(_all((self.truth(when), _negated(self.truth(then)))))
            case c.Unless(part=part, excuse=excuse):
                return _negated(_all((_negated(self.truth(part)), _negated(self.truth(excuse) or False))))
            case c.TimedHistorically(part=part):
                return self.truth(part)
            case c.NumberOf(parts=parts, least=least, most=most):
                truths = [self.truth(part) for part in parts]
                return None if None in truths else least <= sum(map(bool, truths)) <= most
        return None

    def _in_range(self, condition: c.Between | c.WithinTolerance) -> Truth:
        """Truth of a range or tolerance."""
        term = self.number(condition.term)
        ends = (
            (self.number(condition.low), self.number(condition.high))
            if isinstance(condition, c.Between)
            else (self.number(condition.tolerance), self.number(condition.target))
        )
        if term is None or ends[0] is None or ends[1] is None:
            return None
        if isinstance(condition, c.WithinTolerance):
            apart = term - ends[1]
            return abs((apart + 180.0) % 360.0 - 180.0 if condition.on_circle else apart) <= ends[0]
        if condition.on_circle:
            return (term - ends[0]) % 360.0 <= (ends[1] - ends[0]) % 360.0
        return ends[0] <= term <= ends[1]


def _negated(truth: Truth) -> Truth:
    return None if truth is None else not truth


def _all(truths: Iterable[Truth]) -> Truth:
    """Kleene's and."""
    found: Truth = True
    for truth in truths:
        if truth is False:
            return False
        found = None if truth is None else found
    return found
