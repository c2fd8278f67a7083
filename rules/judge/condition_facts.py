"""Facts about a checked condition: the signals that it compares with a value, and the calls that it waits for.

Takes: a checked condition.  Gives: names.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from typing import TypeAlias

from rules.language import checked_tree as c
from rules.signals.model import SignalKind

TreeNode: TypeAlias = c.Condition | c.Event | c.Term

_CHOICE_WORDS = 3


def nodes_of(node: object) -> Iterator[TreeNode]:
    """Iterate over the nodes of a tree, from the root down, in the order of the text."""
    if isinstance(node, tuple):
        for part in node:
            yield from nodes_of(part)
    elif isinstance(node, c.Condition | c.Event | c.Term):
        yield node
        for field in fields(node):
            yield from nodes_of(getattr(node, field.name))


def signals_read(node: object) -> frozenset[str]:
    """Names of all signals that a tree reads."""
    return frozenset(name for part in nodes_of(node) for name in _own_signals(part))


def value_signals(condition: c.Condition | None) -> frozenset[str]:
    """Signals that a condition compares with a value, or with one of three or more words.

    A heading that must be 140 degrees is set to a value; a switch that must be on is not.
    """
    found: set[str] = set()
    for part in nodes_of(condition):
        if _compares_value(part):
            found |= signals_read(part)
    return frozenset(found)


def calls_in(condition: c.Condition | None) -> tuple[str, ...]:
    """Titles of the calls in a condition, in the order of the text."""
    return tuple(dict.fromkeys(part.label for part in nodes_of(condition) if isinstance(part, c.CallEvent)))


def _compares_value(part: TreeNode) -> bool:
    """True if this node compares with a value."""
    if isinstance(part, c.Relation):
        return part.op == "="
    if isinstance(part, c.WordIs):
        return len(part.signal.words) >= _CHOICE_WORDS or part.signal.kind is SignalKind.TEXT
    return isinstance(part, c.Between | c.WithinTolerance | c.SameWord)


def _own_signals(part: TreeNode) -> tuple[str, ...]:
    """Signals that this node names itself."""
    if isinstance(part, c.SignalValue | c.WordIs):
        return (part.signal.name,)
    if isinstance(part, c.SameWord):
        return (part.left.name, part.right.name)
    return ()
