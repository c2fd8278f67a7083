"""Facts about a checked condition: the signals that it compares with a value, and the calls that it waits for.

Takes: a checked condition.  Gives: names.
"""

from __future__ import annotations

from rules.language import checked_tree as c
from rules.language.traversal import CheckedNode, signal_names, walk
from rules.signals.model import SignalKind

_CHOICE_WORDS = 3


def signals_read(node: CheckedNode | None) -> frozenset[str]:
    """Names of all signals that a tree reads; None reads none."""
    return frozenset(signal_names(node)) if node is not None else frozenset()


def value_signals(condition: c.Condition | None) -> frozenset[str]:
    """Signals that a condition compares with a value, or with one of three or more words.

    A heading that must be 140 degrees is set to a value; a switch that must be on is not.
    """
    found: set[str] = set()
    for part in walk(condition):
        if _compares_value(part):
            found |= signals_read(part)
    return frozenset(found)


def calls_in(condition: c.Condition | None) -> tuple[str, ...]:
    """Titles of the calls in a condition, in the order of the text."""
    return tuple(dict.fromkeys(part.label for part in walk(condition) if isinstance(part, c.CallEvent)))


def _compares_value(part: CheckedNode) -> bool:
    """True if this node compares with a value."""
    if isinstance(part, c.Relation):
        return part.op == "="
    if isinstance(part, c.WordIs):
        return len(part.signal.words) >= _CHOICE_WORDS or part.signal.kind is SignalKind.TEXT
    return isinstance(part, c.Between | c.WithinTolerance | c.SameWord)
