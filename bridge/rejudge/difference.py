"""What is other now than it was: findings, notices and phases that are new, gone or different, and counts of the rest.

Two findings are the same error where item, kind and gate are; of several the first is held against the first, and so on.

Takes: outputs before and now.  Gives: `Difference`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, TypeAlias

import msgspec

from bridge.record.form import ENTRY

What: TypeAlias = Literal["finding", "notice", "phase"]
How: TypeAlias = Literal["new", "gone", "different"]
Fields: TypeAlias = dict[str, Any]
Output: TypeAlias = tuple[str, bytes]

_CHANNELS: Mapping[str, What] = {
    f"{ENTRY}finding/opened": "finding",
    f"{ENTRY}finding/changed": "finding",
    f"{ENTRY}notice": "notice",
    f"{ENTRY}phase/entered": "phase",
}
_KEYS: Mapping[What, tuple[str, ...]] = {
    "finding": ("item", "kind", "gate"),
    "notice": ("sentence",),
    "phase": ("phase",),
}
_COUNTED = "number", "finding"
"""Fields that count what came before, and so are other wherever something earlier is."""


class Other(NamedTuple):
    """One thing that is other: as it was (None where it is new) and as it is (None where it is gone); `fields` that differ."""

    what: What
    how: How
    before: Fields | None
    now: Fields | None
    fields: tuple[str, ...]

    @property
    def shown(self) -> Fields:
        """As it is, or as it was where it is gone."""
        return self.now or self.before or {}


@dataclass(frozen=True, slots=True)
class Difference:
    """`others` in the order of their times; `counts` by kind of entry, before and now, where these differ at all."""

    same: bool
    others: tuple[Other, ...]
    counts: dict[str, tuple[int, int]]


def compare(before: Sequence[Output], now: Sequence[Output]) -> Difference:
    """Hold outputs against each other."""
    if before == now:
        return Difference(same=True, others=(), counts={})
    others = sorted(
        (other for what in _KEYS for other in _held_against(what, _things(what, before), _things(what, now))),
        key=lambda other: float(other.shown["sim_s"]),
    )
    return Difference(same=False, others=tuple(others), counts=_counts(before, now))


def _things(what: What, outputs: Iterable[Output]) -> list[Fields]:
    """All things of a kind; a finding as it stands at the end."""
    found: list[Fields] = []
    for topic, data in outputs:
        if _CHANNELS.get(topic) != what:
            continue
        fields: Fields = msgspec.json.decode(data)
        if what != "finding":
            found.append(fields)
        elif topic.endswith("opened"):
            found.append(fields["finding"])
        else:
            number = int(fields["finding"]["number"])
            found[number - 1 : number] = [fields["finding"]]
    return found


def _held_against(what: What, before: Sequence[Fields], now: Sequence[Fields]) -> Iterable[Other]:
    """What is other among things of a kind."""
    old, new = _by_key(what, before), _by_key(what, now)
    for key in dict.fromkeys((*old, *new)):
        ones, others = old.get(key, []), new.get(key, [])
        for one, other in zip(ones, others, strict=False):
            fields = tuple(n for n in {**one, **other} if n not in _COUNTED and one.get(n) != other.get(n))
            if fields:
                yield Other(what, "different", one, other, fields)
        yield from (Other(what, "gone", one, None, ()) for one in ones[len(others) :])
        yield from (Other(what, "new", None, other, ()) for other in others[len(ones) :])


def _by_key(what: What, things: Iterable[Fields]) -> dict[tuple[object, ...], list[Fields]]:
    found: dict[tuple[object, ...], list[Fields]] = defaultdict(list)
    for thing in things:
        found[tuple(thing.get(name) for name in _KEYS[what])].append(thing)
    return found


def _counts(before: Sequence[Output], now: Sequence[Output]) -> dict[str, tuple[int, int]]:
    """How many there are of each kind, where they are not the same, to the byte and in their order."""
    old, new = _by_topic(before), _by_topic(now)
    return {
        topic.removeprefix(ENTRY): (len(old[topic]), len(new[topic]))
        for topic in sorted(old.keys() | new.keys())
        if old[topic] != new[topic]
    }


def _by_topic(outputs: Iterable[Output]) -> defaultdict[str, list[bytes]]:
    found: defaultdict[str, list[bytes]] = defaultdict(list)
    for topic, data in outputs:
        found[topic].append(data)
    return found


def kinds(others: Iterable[Other]) -> Counter[tuple[What, How]]:
    """How many are other in which way."""
    return Counter((other.what, other.how) for other in others)
