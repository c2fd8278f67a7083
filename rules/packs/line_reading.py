"""Reading of a checklist line: the signals whose present value decides whether its items are met.

Not judged are signals that a condition reads only to say when it applies (`if A then B`: A), and those of which it
remembers something (`became`, `happened`, `swept`, a deadline, the highest of some time): their present value may be any.
Nor are those of another item, unless that must be met:

    flow.doors is met and ...                         the doors are judged
    if flow.doors is met then lights.beacon is on     only the beacon: the doors may be open
    flow.doors is met or ..., flow.doors is not met   as before: the line can be met with a door open

Takes: items of a pack, and its figures.  Gives: `LineReading`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from rules.language import checked_tree as c
from rules.language.traversal import direct_signal_names, item_ids, signal_names, terms_of, walk
from rules.packs.model import Figure, Item


@dataclass(frozen=True, slots=True)
class LineReading:
    """Signals that the items of a line read.

    Attributes:
        signals: Every signal that their conditions read.
        judged: Those whose present value decides.
        entered: True if a person enters something: a call, or a confirmation.
        faulty: True if one of the conditions is missing or has a fault.
    """

    signals: frozenset[str]
    judged: frozenset[str]
    entered: bool
    faulty: bool


def read_line(
    own_items: Iterable[Item], items: Mapping[str, Item], figures: Mapping[str, Figure]
) -> LineReading:
    """Find what the items of a line read, through `is met` and figures too.

    Args:
        own_items: Items of the line.
        items: All items of the pack by id.
        figures: Figures of the pack by the name of their signal.
    """
    own_items = tuple(own_items)
    read = _closure(own_items, items, item_ids)
    conditions = _conditions_of(read)
    must_be_met = _conditions_of(_closure(own_items, items, _items_that_must_be_met))
    return LineReading(
        frozenset(_with_inputs(signal_names(*conditions), figures)),
        frozenset(_with_inputs((name for one in must_be_met for name in _judged(one)), figures)),
        any(item.confirm for item in read) or any(isinstance(n, c.CallEvent) for n in walk(*conditions)),
        any(item.condition is None and not item.confirm for item in read)
        or any(isinstance(node, c.FaultyCondition) for node in walk(*conditions)),
    )


def _closure(
    own_items: Iterable[Item],
    items: Mapping[str, Item],
    items_of: Callable[[c.Condition], Iterable[str]],
) -> Collection[Item]:
    """Add the items to which conditions refer, directly or indirectly.

    Args:
        own_items: Items to begin with.
        items: All items by id.
        items_of: Gives the ids to which a condition refers.
    """
    found: dict[str, Item] = {}
    ahead = list(own_items)
    while ahead:
        item = ahead.pop(0)
        if found.setdefault(item.id, item) is item and item.condition is not None:
            ahead += [items[name] for name in items_of(item.condition) if name in items and name not in found]
    return found.values()


def _conditions_of(items: Iterable[Item]) -> list[c.Condition]:
    """Give the conditions of items that have one."""
    return [item.condition for item in items if item.condition is not None]


def _items_that_must_be_met(condition: c.Condition) -> Iterator[str]:
    """Give the items without which a condition is not true, where it applies."""
    match condition:
        case c.ItemMet():
            yield condition.item
        case c.And():
            for part in condition.parts:
                yield from _items_that_must_be_met(part)
        case c.TimedHistorically() | c.Since():
            yield from _items_that_must_be_met(condition.part)
        case c.Implies():
            yield from _items_that_must_be_met(condition.then)


def _with_inputs(names: Iterable[str], figures: Mapping[str, Figure]) -> Iterator[str]:
    """Give signals, and after each figure the signals from which it is computed."""
    for name in names:
        yield name
        if name in figures:
            yield from _with_inputs(figures[name].input_signals, figures)


def _judged(condition: c.Condition) -> Iterator[str]:
    """Give the signals whose present value decides a condition."""
    match condition:
        case c.Relation() | c.Between() | c.WithinTolerance():
            for term in terms_of(condition):
                yield from direct_signal_names(term)
        case c.WordIs():
            yield condition.signal.name
        case c.SameWord():
            yield from (condition.left.name, condition.right.name)
        case c.And() | c.Or() | c.NumberOf():
            for part in condition.parts:
                yield from _judged(part)
        case c.Not() | c.TimedHistorically() | c.Since() | c.Unless():
            yield from _judged(condition.part)
        case c.Implies():
            yield from _judged(condition.then)
