"""Renews the parts of a snapshot: which are made again, and which stay the same objects.

Takes: the parts of the last snapshot, and what changed since.  Gives: the parts of the next one.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from types import MappingProxyType
from typing import TypeVar

from rules.judge.items import ItemState
from rules.judge.snapshot import ItemSnapshot, WatchSnapshot
from rules.judge.watches import WatchState

SnapshotT = TypeVar("SnapshotT")
ExplainedT = TypeVar("ExplainedT", ItemSnapshot, WatchSnapshot)
StateT = TypeVar("StateT", ItemState, WatchState)


def make_due(
    last: Mapping[str, ExplainedT],
    states: Mapping[str, StateT],
    affected: Iterable[str],
    changed: Collection[str],
    make: Callable[[StateT], ExplainedT],
) -> dict[str, ExplainedT]:
    """Make those whose state changed, and those whose words may be others; words that are not composed yet will be the present ones.

    Args:
        last: those of the last snapshot.
        states: the states, by the same ids.
        affected: ids of those whose words may be others.
        changed: ids of those whose state changed.
        make: makes one.
    """
    due = [*changed, *(name for name in affected if name not in changed and last[name].words.composed)]
    return {name: make(states[name]) for name in due}


def renewed_words(
    old: Mapping[str, ExplainedT] | None, new: Mapping[str, ExplainedT]
) -> tuple[Mapping[str, ExplainedT], Collection[str]]:
    """Replace the items or watches that differ, and keep the object of one that is equal.

    One whose words nobody has read counts as differing, so that none are composed to compare them.

    Returns:
        All of them, in the old mapping where nothing differs; and the names of those that were replaced.
    """
    if old is None:
        return MappingProxyType(new), new.keys()
    differing: dict[str, ExplainedT] = {}
    for name, one in new.items():
        words = old[name].words
        if words.was_read and old[name] == one:
            words.was_read = False
        else:
            differing[name] = one
    return replaced(old, differing), differing.keys()


def replaced(old: Mapping[str, SnapshotT], differing: Mapping[str, SnapshotT]) -> Mapping[str, SnapshotT]:
    """Replace those that differ; the old mapping where none does."""
    return MappingProxyType({**old, **differing}) if differing else old


def differing_names(old: Mapping[str, object], new: Mapping[str, object]) -> set[str]:
    """Names under which the two hold different objects."""
    found = {name for name, one in new.items() if old.get(name) is not one}
    return found | (old.keys() - new.keys())
