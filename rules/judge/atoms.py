"""What the judge reads from a checked tree: which signals meet a value, and which calls it waits for.

Takes: a checked condition.  Gives: names.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from typing import TypeAlias

from rules.language import checked as c
from rules.signals.model import Kind

Part: TypeAlias = c.Condition | c.Event | c.Term

_MANY_WORDS = 3


def parts_of(node: object) -> Iterator[Part]:
    """Every node of a tree, from the root down, in the order of the text."""
    if isinstance(node, tuple):
        for part in node:
            yield from parts_of(part)
    elif isinstance(node, c.Condition | c.Event | c.Term):
        yield node
        for field in fields(node):
            yield from parts_of(getattr(node, field.name))


def signals_read(node: object) -> frozenset[str]:
    """The names of all signals that a tree reads."""
    return frozenset(name for part in parts_of(node) for name in _direct(part))


def value_signals(condition: c.Condition | None) -> frozenset[str]:
    """The signals that a condition compares with a value, or with one of three or more words.

    A switch that must be on is not dialled; a heading that must be 140 degrees is.
    """
    found: set[str] = set()
    for part in parts_of(condition):
        if _meets_value(part):
            found |= signals_read(part)
    return frozenset(found)


def calls_heard(condition: c.Condition | None) -> tuple[str, ...]:
    """The calls of a condition, as spoken, in the order of the text."""
    return tuple(dict.fromkeys(part.label for part in parts_of(condition) if isinstance(part, c.CallMade)))


def _meets_value(part: Part) -> bool:
    """Whether this node is a comparison with a value."""
    if isinstance(part, c.Relation):
        return part.op == "="
    if isinstance(part, c.WordIs):
        return len(part.signal.words) >= _MANY_WORDS or part.signal.kind is Kind.TEXT
    return isinstance(part, c.Between | c.Close | c.SameWord)


def _direct(part: Part) -> tuple[str, ...]:
    """The signals that this node names itself."""
    if isinstance(part, c.Read | c.WordIs):
        return (part.signal.name,)
    if isinstance(part, c.SameWord):
        return (part.left.name, part.right.name)
    return ()
