"""Translates conditions without time to Python, to rule-engine's language and to CEL.

Conditions that depend on the past have no counterpart there; `tests.bench.temporal` has those.  `=` between numbers becomes
plain equality, without our allowance for 32-bit senders: that is the usual form in those languages, and faster.

Takes: checked conditions.  Gives: one expression each, as text.
"""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from typing import Any, ClassVar

from rules.language import checked_tree as c
from rules.language.traversal import walk

TIMED = (
    c.TimedHistorically,
    c.Once,
    c.TimedOnce,
    c.BeforeAfter,
    c.Since,
    c.Window,
    c.EventCount,
    c.ItemMet,
    c.Estimate,
    c.FaultyCondition,
)
"""Nodes without a counterpart in a language of expressions: an estimate chooses the source by what is received."""


def plain_conditions(conditions: Mapping[str, c.Condition]) -> dict[str, c.Condition]:
    """Select the conditions that depend on the present only."""
    return {
        name: condition
        for name, condition in conditions.items()
        if not any(isinstance(part, TIMED) for part in walk(condition))
    }


class Dialect(ABC):
    """Base class of the languages: the words in which they differ."""

    AND: ClassVar[str] = " and "
    OR: ClassVar[str] = " or "
    NOT: ClassVar[str] = "not "
    IN: ClassVar[tuple[str, str]] = ("(", ",)")
    EQUAL: ClassVar[str] = "=="

    @abstractmethod
    def name(self, signal: str) -> str:
        """Write the expression for a signal's value."""

    def size(self, number: str) -> str:
        """Write a number without its sign."""
        return f"({number} < 0.0 ? -({number}) : {number})"

    def near(self, one: str, other: str, tolerance: str) -> str:
        """Compare two numbers with a tolerance, a number or a term."""
        return f"({one} - {other} <= {tolerance}{self.AND}{other} - {one} <= {tolerance})"

    def near_on_circle(self, one: str, other: str, tolerance_deg: float) -> str:
        """Compare two directions with a tolerance."""
        low, high = 180.0 - tolerance_deg, 180.0 + tolerance_deg
        offset_deg = f"({one} - {other} + 540.0) % 360.0"
        return f"({offset_deg} >= {low!r}{self.AND}{offset_deg} <= {high!r})"

    def write(self, condition: c.Condition) -> str:
        """Write a whole condition.

        Raises:
            KeyError: A part of it has no counterpart.
        """
        writers: dict[type, Callable[[Any], str]] = {
            c.Relation: self._relation,
            c.Between: self._between,
            c.WithinTolerance: self._close,
            c.WordIs: self._word,
            c.SameWord: lambda n: (
                f"({self.name(n.left.name)} {'!=' if n.negated else self.EQUAL} {self.name(n.right.name)})"
            ),
            c.And: lambda n: "(" + self.AND.join(map(self.write, n.parts)) + ")",
            c.Or: lambda n: "(" + self.OR.join(map(self.write, n.parts)) + ")",
            c.Not: lambda n: f"({self.NOT}{self.write(n.part)})",
            c.Unless: lambda n: f"({self.write(n.part)}{self.OR}{self.write(n.excuse)})",
            c.Implies: lambda n: f"(({self.NOT}{self.write(n.when)}){self.OR}{self.write(n.then)})",
        }
        return writers[type(condition)](condition)

    def number(self, term: c.Term) -> str:
        """Write a number."""
        if isinstance(term, c.Constant):
            return repr(float(term.value))
        if isinstance(term, c.SignalValue):
            name = self.name(term.signal.name)
            plain = (term.factor, term.offset) == (1.0, 0.0)
            return name if plain else f"({name} * {term.factor!r} + {term.offset!r})"
        if isinstance(term, c.Sum):
            return f"({self.number(term.left)} {'+' if term.sign > 0 else '-'} {self.number(term.right)})"
        if isinstance(term, c.Scale):
            return f"({self.number(term.term)} * {term.factor!r})"
        if isinstance(term, c.Size):
            return self.size(self.number(term.term))
        raise KeyError(type(term))

    def _relation(self, node: c.Relation) -> str:
        if node.on_circle:
            raise KeyError("equal directions")
        op = self.EQUAL if node.op == "=" else node.op
        return f"({self.number(node.left)} {op} {self.number(node.right)})"

    def _between(self, node: c.Between) -> str:
        if node.on_circle:
            raise KeyError("a range of directions")
        term = self.number(node.term)
        return f"({term} >= {constant(node.low)!r}{self.AND}{term} <= {constant(node.high)!r})"

    def _close(self, node: c.WithinTolerance) -> str:
        term, target = self.number(node.term), self.number(node.target)
        if node.on_circle:
            return self.near_on_circle(term, target, constant(node.tolerance))
        return self.near(term, target, self.number(node.tolerance))

    def _word(self, node: c.WordIs) -> str:
        name, words = self.name(node.signal.name), [json.dumps(word) for word in node.words]
        if len(words) == 1:
            return f"({name} {'!=' if node.negated else self.EQUAL} {words[0]})"
        start, end = self.IN
        inside = f"({name} in {start}{', '.join(words)}{end})"
        return f"({self.NOT}{inside})" if node.negated else inside


class Python(Dialect):
    """Plain Python over a dictionary of values."""

    def name(self, signal: str) -> str:
        """Write a look-up in `v`."""
        return f"v[{signal!r}]"

    def size(self, number: str) -> str:
        """Use the built-in `abs`."""
        return f"abs({number})"

    def near(self, one: str, other: str, tolerance: str) -> str:
        """Use the built-in `abs`."""
        return f"(abs({one} - {other}) <= {tolerance})"

    def near_on_circle(self, one: str, other: str, tolerance_deg: float) -> str:
        """Use the built-in `abs`."""
        return f"(abs(({one} - {other} + 540.0) % 360.0 - 180.0) <= {tolerance_deg!r})"

    def _between(self, node: c.Between) -> str:
        return f"({constant(node.low)!r} <= {self.number(node.term)} <= {constant(node.high)!r})"


def constant(term: c.Term) -> float:
    """Give the value of a constant; KeyError for any other term."""
    if not isinstance(term, c.Constant):
        raise KeyError(type(term))
    return term.value


def flat(signal: str) -> str:
    """Write a signal's name as a symbol without dots."""
    return signal.replace(".", "_")


class RuleEngine(Dialect):
    """rule-engine's language."""

    IN = ("[", "]")

    def name(self, signal: str) -> str:
        """Write a symbol."""
        return flat(signal)


class Cel(Dialect):
    """The Common Expression Language, whose remainder is for whole numbers only."""

    AND = " && "
    OR = " || "
    NOT = "!"
    IN = ("[", "]")

    def name(self, signal: str) -> str:
        """Write a variable."""
        return flat(signal)

    def near_on_circle(self, one: str, other: str, tolerance_deg: float) -> str:
        """Compare by cases, since there is no remainder of fractions."""
        gap, far = f"({one} - {other})", 360.0 - tolerance_deg
        near = self.near(one, other, repr(tolerance_deg))
        return f"({near} || {gap} >= {far!r} || {gap} <= -{far!r})"
