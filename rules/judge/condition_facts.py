"""What the judge reads from a checked tree: which signals meet a value, and which calls it waits for.

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
    """Every node of a tree, from the root down, in the order of the text."""
    if isinstance(node, tuple):
        for part in node:
            yield from nodes_of(part)
    elif isinstance(node, c.Condition | c.Event | c.Term):
        yield node
        for field in fields(node):
            yield from nodes_of(getattr(node, field.name))


def signals_read(node: object) -> frozenset[str]:
    """The names of all signals that a tree reads."""
    return frozenset(name for part in nodes_of(node) for name in _own_signals(part))


def value_signals(condition: c.Condition | None) -> frozenset[str]:
    """The signals that a condition compares with a value, or with one of three or more words.

    A switch that must be on is not dialled; a heading that must be 140 degrees is.
    """
    found: set[str] = set()
    for part in nodes_of(condition):
        if _compares_value(part):
            found |= signals_read(part)
    return frozenset(found)


def calls_in(condition: c.Condition | None) -> tuple[str, ...]:
    """The calls of a condition, as spoken, in the order of the text."""
    return tuple(dict.fromkeys(part.label for part in nodes_of(condition) if isinstance(part, c.CallEvent)))


def _compares_value(part: TreeNode) -> bool:
    """Whether this node is a comparison with a value."""
    if isinstance(part, c.Relation):
        return part.op == "="
    if isinstance(part, c.WordIs):
        return len(part.signal.words) >= _CHOICE_WORDS or part.signal.kind is SignalKind.TEXT
    return isinstance(part, c.Between | c.WithinTolerance | c.SameWord)


def _own_signals(part: TreeNode) -> tuple[str, ...]:
    """The signals that this node names itself."""
    if isinstance(part, c.SignalValue | c.WordIs):
        return (part.signal.name,)
    if isinstance(part, c.SameWord):
        return (part.left.name, part.right.name)
    return ()
