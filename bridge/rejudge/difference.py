"""Compares the events of a recording with those of a rejudge: findings, notices and phases, and counts of the rest.

Findings match by item, kind and gate; several with the same key match in order, the first with the first:

    before   beacon(1)  beacon(2)  pump(3)
    after    beacon(1)  pump(2)
    result   beacon(2) is gone; pump is the same, since numbers are not compared

Takes: events before and after.  Gives: `RejudgeComparison`.
"""

from __future__ import annotations

from collections import defaultdict
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
"""Fields with running numbers, which change after every earlier difference."""


class OutputDifference(NamedTuple):
    """One difference: `before` is None for a new output, `after` for one that is gone; `fields` lists changed fields."""

    kind: OutputKind
    difference: DifferenceKind
    before: Fields | None
    after: Fields | None
    fields: tuple[str, ...]

    @property
    def latest(self) -> Fields:
        """The fields after, or before if it is gone."""
        return self.after or self.before or {}


@dataclass(frozen=True, slots=True)
class RejudgeComparison:
    """`differences` in the order of their times; `counts` by kind of event, before and after, if they differ."""

    same: bool
    differences: tuple[OutputDifference, ...]
    counts: dict[str, tuple[int, int]]


def compare(before: Sequence[Output], after: Sequence[Output]) -> RejudgeComparison:
    """Compare two lists of outputs."""
    if before == after:
        return RejudgeComparison(same=True, differences=(), counts={})
    differences = sorted(
        (
            difference
            for kind in _KEYS
            for difference in _differences_of_kind(
                kind, _outputs_of_kind(kind, before), _outputs_of_kind(kind, after)
            )
        ),
        key=lambda difference: float(difference.latest["sim_s"]),
    )
    return RejudgeComparison(same=False, differences=tuple(differences), counts=_counts(before, after))


def _outputs_of_kind(kind: OutputKind, outputs: Iterable[Output]) -> list[Fields]:
    """Return the outputs of a kind; findings in their final state."""
    found: list[Fields] = []
    for topic, data in outputs:
        if _CHANNELS.get(topic) != kind:
            continue
        fields: Fields = msgspec.json.decode(data)
        if kind != "finding":
            found.append(fields)
        elif topic.endswith("opened"):
            found.append(fields["finding"])
        else:
            number = int(fields["finding"]["number"])
            found[number - 1 : number] = [fields["finding"]]
    return found


def _differences_of_kind(
    kind: OutputKind, before: Sequence[Fields], after: Sequence[Fields]
) -> Iterable[OutputDifference]:
    """Yield the differences among outputs of a kind."""
    old, new = _by_key(kind, before), _by_key(kind, after)
    for key in dict.fromkeys((*old, *new)):
        matching_before, matching_after = old.get(key, []), new.get(key, [])
        for one, other in zip(matching_before, matching_after, strict=False):
            fields = tuple(
                n for n in {**one, **other} if n not in _COUNTER_FIELDS and one.get(n) != other.get(n)
            )
            if fields:
                yield OutputDifference(kind, "different", one, other, fields)
        for gone in matching_before[len(matching_after) :]:
            yield OutputDifference(kind, "gone", gone, None, ())
        for added in matching_after[len(matching_before) :]:
            yield OutputDifference(kind, "new", None, added, ())


def _by_key(kind: OutputKind, outputs: Iterable[Fields]) -> dict[tuple[object, ...], list[Fields]]:
    found: dict[tuple[object, ...], list[Fields]] = defaultdict(list)
    for output in outputs:
        found[tuple(output.get(name) for name in _KEYS[kind])].append(output)
    return found


def _counts(before: Sequence[Output], after: Sequence[Output]) -> dict[str, tuple[int, int]]:
    """Count the events before and after, for each kind of event that differs in bytes or order."""
    old, new = _by_topic(before), _by_topic(after)
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
