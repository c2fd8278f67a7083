"""Walks over a checked condition: its signals, its items, and how far back it looks.

Takes: `checked.Condition`.  Gives: names, item ids, seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from typing import TypeAlias

from rules.language import checked
from rules.signals.model import Signal

CheckedNode: TypeAlias = checked.Condition | checked.Event | checked.Term
_NODES = (
    *(checked.Constant, checked.SignalValue, checked.Sum, checked.Scale, checked.Window, checked.EventCount),
    *(checked.CallEvent, checked.Rise, checked.Whenever, checked.Sweep),
    *(
        checked.Relation,
        checked.Between,
        checked.WithinTolerance,
        checked.WordIs,
        checked.SameWord,
        checked.And,
        checked.Or,
    ),
    *(
        checked.Not,
        checked.Implies,
        checked.TimedHistorically,
        checked.Once,
        checked.TimedOnce,
        checked.BeforeAfter,
        checked.Since,
    ),
    *(checked.ItemMet, checked.FaultyCondition),
)


def walk(node: CheckedNode) -> Iterator[CheckedNode]:
    """A node and all below it, each before what is in it."""
    yield node
    for child in children(node):
        yield from walk(child)


def children(node: CheckedNode) -> list[CheckedNode]:
    """The nodes right below a node, in the order in which they were written."""
    values = (getattr(node, slot.name) for slot in fields(node))
    parts = (part for value in values for part in (value if isinstance(value, tuple) else (value,)))
    return [part for part in parts if isinstance(part, _NODES)]


def signals_in(condition: checked.Condition) -> tuple[Signal, ...]:
    """Every signal that a condition reads, once each, in the order of reading."""
    found: dict[str, Signal] = {}
    for node in walk(condition):
        if isinstance(node, checked.SignalValue | checked.WordIs):
            found.setdefault(node.signal.name, node.signal)
        elif isinstance(node, checked.SameWord):
            found.setdefault(node.left.name, node.left)
            found.setdefault(node.right.name, node.right)
    return tuple(found.values())


def signal_names(condition: checked.Condition) -> tuple[str, ...]:
    """The names of the signals that a condition reads."""
    return tuple(signal.name for signal in signals_in(condition))


def item_ids(condition: checked.Condition) -> tuple[str, ...]:
    """The ids of the items that a condition reads; the pack's loader looks for circles among them."""
    items = (node.item for node in walk(condition) if isinstance(node, checked.ItemMet))
    return tuple(dict.fromkeys(items))


def look_back_s(condition: checked.Condition) -> float:
    """How long a stretch of the past must be kept, in seconds.

    Windows inside windows add up.  An event without a bound (`happened`, `before`, `since`) keeps
    one moment and no stretch, so it adds nothing of its own.
    """
    return _look_back_s(condition)


def _look_back_s(node: CheckedNode) -> float:
    inner = max(map(_look_back_s, children(node)), default=0.0)
    windows = checked.TimedHistorically | checked.TimedOnce | checked.Window | checked.EventCount
    return inner + node.seconds if isinstance(node, windows) else inner
