"""Walks over a checked condition: its signals, its items, and its look-back.

Takes: checked conditions, events and terms.  Gives: nodes, names, item ids, seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from math import inf
from typing import TypeAlias

from rules.language import checked_tree
from rules.signals.model import Signal

CheckedNode: TypeAlias = checked_tree.Condition | checked_tree.Event | checked_tree.Term
_NODE_TYPES: frozenset[type] = frozenset({
    checked_tree.Constant, checked_tree.SignalValue, checked_tree.Sum, checked_tree.Scale, checked_tree.Size, checked_tree.Among,
    checked_tree.Window, checked_tree.EventCount, checked_tree.CallEvent, checked_tree.Rise, checked_tree.Whenever, checked_tree.Changed,
    checked_tree.Sweep,
    checked_tree.Relation, checked_tree.Between, checked_tree.WithinTolerance, checked_tree.WordIs, checked_tree.SameWord,
    checked_tree.And, checked_tree.Or, checked_tree.NumberOf, checked_tree.Not, checked_tree.Implies, checked_tree.Unless,
    checked_tree.TimedHistorically,
    checked_tree.Once, checked_tree.TimedOnce, checked_tree.BeforeAfter, checked_tree.Deadline, checked_tree.Since,
    checked_tree.ItemMet, checked_tree.Estimate, checked_tree.FaultyCondition,
})  # fmt: skip
_WITH_DURATION = (
    checked_tree.Window,
    checked_tree.EventCount,
    checked_tree.TimedHistorically,
    checked_tree.TimedOnce,
)
_WITHOUT_LIMIT = (checked_tree.Once, checked_tree.BeforeAfter, checked_tree.Deadline, checked_tree.Since)
_FIELD_NAMES = {kind: tuple(field.name for field in fields(kind)) for kind in _NODE_TYPES}


def walk(*nodes: CheckedNode | None) -> Iterator[CheckedNode]:
    """Give each node and all nodes below it, in the order in which they were written; None has no nodes."""
    # A stack instead of recursion: sentences are made while a flight is judged, and nested generators cost twice as much.
    stack = [node for node in reversed(nodes) if node is not None]
    while stack:
        node = stack.pop()
        yield node
        stack.extend(reversed(children(node)))


def children(node: CheckedNode) -> list[CheckedNode]:
    """Give the nodes right below a node, in the order in which they were written."""
    found: list[CheckedNode] = []
    for name in _FIELD_NAMES[type(node)]:
        value = getattr(node, name)
        if type(value) in _NODE_TYPES:
            found.append(value)
        elif type(value) is tuple:
            found.extend(part for part in value if type(part) in _NODE_TYPES)
    return found


def parts_of(condition: checked_tree.Condition) -> Iterator[checked_tree.Condition]:
    """Give the parts that logic and `for` connect; a condition without these is its own part."""
    match condition:
        case (
            checked_tree.And(parts=parts) | checked_tree.Or(parts=parts) | checked_tree.NumberOf(parts=parts)
        ):
            for part in parts:
                yield from parts_of(part)
        case checked_tree.Implies(when=when, then=then):
            yield from parts_of(when)
            yield from parts_of(then)
        case checked_tree.Unless(part=part, excuse=excuse):
            yield from parts_of(part)
            yield from parts_of(excuse)
        case checked_tree.Not(part=part):
            yield from parts_of(part)
        case checked_tree.TimedHistorically(part=part):
            yield condition
            yield from parts_of(part)
        case _:
            yield condition


def required_and_met(condition: checked_tree.Condition) -> checked_tree.Condition:
    """Give the condition without the ways to be true in which it asks for nothing.

    `if A then B` is true also where A is false, and `A unless B` where B excuses: then nobody has met anything.
    """
    match condition:
        case checked_tree.Implies(when=when, then=then):
            return checked_tree.And((when, required_and_met(then)))
        case checked_tree.Unless(part=part):
            return required_and_met(part)
        case checked_tree.And(parts=parts):
            return checked_tree.And(tuple(required_and_met(part) for part in parts))
        case _:
            return condition


def signals_in(*nodes: CheckedNode) -> tuple[Signal, ...]:
    """Give every signal that the nodes read, once each, in the order of reading."""
    found: dict[str, Signal] = {}
    stack = list(reversed(nodes))
    while stack:
        node = stack.pop()
        if isinstance(node, (checked_tree.SignalValue, checked_tree.WordIs, checked_tree.Changed)):
            found.setdefault(node.signal.name, node.signal)
        elif isinstance(node, checked_tree.SameWord):
            found.setdefault(node.left.name, node.left)
            found.setdefault(node.right.name, node.right)
        else:
            stack.extend(reversed(children(node)))
    return tuple(found.values())


def signal_names(*nodes: CheckedNode) -> tuple[str, ...]:
    """Give the names of the signals that the nodes read."""
    return tuple(signal.name for signal in signals_in(*nodes))


def item_ids(condition: checked_tree.Condition) -> tuple[str, ...]:
    """Give the ids of the items that a condition reads; the pack's loader looks for circles among them."""
    items = (node.item for node in walk(condition) if isinstance(node, checked_tree.ItemMet))
    return tuple(dict.fromkeys(items))


def looks_back_without_limit(node: CheckedNode) -> bool:
    """Check for a part that looks back to where the monitors began; items that it reads do not count."""
    return any(isinstance(part, _WITHOUT_LIMIT) for part in walk(node))


def look_back_s(*nodes: CheckedNode) -> float:
    """Give the seconds over which nodes look back, 0 for present values, infinity where nothing limits them."""
    return max(map(_node_look_back_s, nodes), default=0.0)


def limited_look_back_s(*nodes: CheckedNode) -> float:
    """Give the longest of the limited times over which parts of nodes look back, in seconds."""
    times = (_node_look_back_s(part) for node in nodes for part in walk(node))
    return max((back_s for back_s in times if back_s < inf), default=0.0)


def _node_look_back_s(node: CheckedNode) -> float:
    if isinstance(node, _WITHOUT_LIMIT):
        return inf
    own_s = node.seconds if isinstance(node, _WITH_DURATION) else 0.0
    return own_s + look_back_s(*children(node))


def direct_signal_names(term: checked_tree.Term) -> tuple[str, ...]:
    """Give the signals that a term reads itself, not through a window or count."""
    if isinstance(term, checked_tree.SignalValue):
        return (term.signal.name,)
    return tuple(name for part in _term_parts(term) for name in direct_signal_names(part))


def inner_windows(term: checked_tree.Term) -> tuple[checked_tree.Window | checked_tree.EventCount, ...]:
    """Give the windows and counts that a term reads."""
    if isinstance(term, (checked_tree.Window, checked_tree.EventCount)):
        return (term,)
    return tuple(window for part in _term_parts(term) for window in inner_windows(part))


def _term_parts(term: checked_tree.Term) -> tuple[checked_tree.Term, ...]:
    """Give the terms that a term reads at the same moment."""
    if isinstance(term, checked_tree.Sum):
        return (term.left, term.right)
    if isinstance(term, checked_tree.Among):
        return term.terms
    return (term.term,) if isinstance(term, checked_tree.Scale | checked_tree.Size) else ()


def terms_of(predicate: checked_tree.Predicate) -> tuple[checked_tree.Term, ...]:
    """Give the terms of a comparison of numbers; none for words."""
    if isinstance(predicate, checked_tree.Relation):
        return (predicate.left, predicate.right)
    if isinstance(predicate, checked_tree.Between):
        return (predicate.term, predicate.low, predicate.high)
    return (
        (predicate.term, predicate.tolerance, predicate.target)
        if isinstance(predicate, checked_tree.WithinTolerance)
        else ()
    )
