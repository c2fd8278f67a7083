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

from bridge.recording.file_format import EVENT_PREFIX

OutputKind: TypeAlias = Literal["finding", "notice", "phase"]
DifferenceKind: TypeAlias = Literal["new", "gone", "different"]
Fields: TypeAlias = dict[str, Any]
Output: TypeAlias = tuple[str, bytes]

_CHANNELS: Mapping[str, OutputKind] = {
    f"{EVENT_PREFIX}finding/opened": "finding",
    f"{EVENT_PREFIX}finding/changed": "finding",
    f"{EVENT_PREFIX}notice": "notice",
    f"{EVENT_PREFIX}phase/entered": "phase",
}
_KEYS: Mapping[OutputKind, tuple[str, ...]] = {
    "finding": ("item", "kind", "gate"),
    "notice": ("sentence",),
    "phase": ("phase",),
}
_COUNTER_FIELDS = "number", "finding"
"""Fields that count what came before, and so are other wherever something earlier is."""


class OutputDifference(NamedTuple):
    """One thing that is other: as it was (None where it is new) and as it is (None where it is gone); `fields` that differ."""

    kind: OutputKind
    difference: DifferenceKind
    before: Fields | None
    after: Fields | None
    fields: tuple[str, ...]

    @property
    def latest(self) -> Fields:
        """As it is, or as it was where it is gone."""
        return self.after or self.before or {}


@dataclass(frozen=True, slots=True)
class RejudgeComparison:
    """`others` in the order of their times; `counts` by kind of entry, before and now, where these differ at all."""

    same: bool
    differences: tuple[OutputDifference, ...]
    counts: dict[str, tuple[int, int]]


def compare(before: Sequence[Output], after: Sequence[Output]) -> RejudgeComparison:
    """Hold outputs against each other."""
    if before == after:
        return RejudgeComparison(same=True, differences=(), counts={})
    others = sorted(
        (
            other
            for what in _KEYS
            for other in _differences_of_kind(
                what, _outputs_of_kind(what, before), _outputs_of_kind(what, after)
            )
        ),
        key=lambda other: float(other.latest["sim_s"]),
    )
    return RejudgeComparison(same=False, differences=tuple(others), counts=_counts(before, after))


def _outputs_of_kind(what: OutputKind, outputs: Iterable[Output]) -> list[Fields]:
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


def _differences_of_kind(
    what: OutputKind, before: Sequence[Fields], now: Sequence[Fields]
) -> Iterable[OutputDifference]:
    """What is other among things of a kind."""
    old, new = _by_key(what, before), _by_key(what, now)
    for key in dict.fromkeys((*old, *new)):
        ones, others = old.get(key, []), new.get(key, [])
        for one, other in zip(ones, others, strict=False):
            fields = tuple(
                n for n in {**one, **other} if n not in _COUNTER_FIELDS and one.get(n) != other.get(n)
            )
            if fields:
                yield OutputDifference(what, "different", one, other, fields)
        yield from (OutputDifference(what, "gone", one, None, ()) for one in ones[len(others) :])
        yield from (OutputDifference(what, "new", None, other, ()) for other in others[len(ones) :])


def _by_key(what: OutputKind, things: Iterable[Fields]) -> dict[tuple[object, ...], list[Fields]]:
    found: dict[tuple[object, ...], list[Fields]] = defaultdict(list)
    for thing in things:
        found[tuple(thing.get(name) for name in _KEYS[what])].append(thing)
    return found


def _counts(before: Sequence[Output], now: Sequence[Output]) -> dict[str, tuple[int, int]]:
    """How many there are of each kind, where they are not the same, to the byte and in their order."""
    old, new = _by_topic(before), _by_topic(now)
    return {
        topic.removeprefix(EVENT_PREFIX): (len(old[topic]), len(new[topic]))
        for topic in sorted(old.keys() | new.keys())
        if old[topic] != new[topic]
    }


def _by_topic(outputs: Iterable[Output]) -> defaultdict[str, list[bytes]]:
    found: defaultdict[str, list[bytes]] = defaultdict(list)
    for topic, data in outputs:
        found[topic].append(data)
    return found


def count_by_kind(others: Iterable[OutputDifference]) -> Counter[tuple[OutputKind, DifferenceKind]]:
    """How many are other in which way."""
    return Counter((other.kind, other.difference) for other in others)
