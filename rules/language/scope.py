"""Scope of a condition: every name that it may use, and the meaning of each.

Takes: signals, calls, limits and items of one pack and trip sheet.  Gives: `Scope`, which finds names,
the words that match a `*`, and the nearest name to a mistyped one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from rules.language import syntax
from rules.signals.model import ESTIMATE_PREFIX, Signal
from rules.source.suggestions import nearest_word


@dataclass(frozen=True, slots=True)
class PackLimit:
    """Constant of the pack; `unit` is '' or '1' for a plain number."""

    value: float
    unit: str
    label: str


@dataclass(frozen=True, slots=True)
class EstimateSource:
    """One source of an estimate: conditions that show yes or no, or the least and the most that a number can be.

    Each is None where the source does not have it.  The source counts only `while_true`, where that is given.
    """

    yes: syntax.ConditionExpr | None = None
    no: syntax.ConditionExpr | None = None
    least: syntax.TermExpr | None = None
    most: syntax.TermExpr | None = None
    while_true: syntax.ConditionExpr | None = None


@dataclass(frozen=True, slots=True)
class EstimateRule:
    """Estimate of the pack: its name in sentences, and its sources, the best one first."""

    label: str
    is_number: bool
    sources: tuple[EstimateSource, ...]


@dataclass(frozen=True, slots=True)
class Scope:
    """Names that conditions may use.

    `signals` contains the aeroplane's and the trip sheet's (`trip.NAME`); `calls` maps an id without
    its `call.` to its title, `missing_calls` to the text while it has not been made, and `speakers` are those who make calls; `limits` likewise; `items` maps a full id (`flow.NAME.KEY`) to its
    label.  `local` is the flow of the condition, so that `flow.KEY` is looked up there
    first.  `inoperative` lists the signals, or the dotted beginnings of names, that are dispatched
    inoperative: a `*` leaves them out.  `matches` maps the id of an item that is judged match by match to its
    matches, each with its label.  `removed` are the full ids of items that an extending pack removed.  `estimates` maps an
    id without its `estimate.` to its rule; `may_estimate` is false where a condition may name none.  `suggests` is false where
    no nearest name is looked for.
    """

    signals: Mapping[str, Signal]
    calls: Mapping[str, str] = field(default_factory=dict)
    limits: Mapping[str, PackLimit] = field(default_factory=dict)
    items: Mapping[str, str] = field(default_factory=dict)
    local: str = ""
    inoperative: tuple[str, ...] = ()
    speakers: tuple[str, ...] = ()
    matches: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    removed: frozenset[str] = frozenset()
    estimates: Mapping[str, EstimateRule] = field(default_factory=dict)
    may_estimate: bool = True
    suggests: bool = True
    missing_calls: Mapping[str, str] = field(default_factory=dict)

    def names(self) -> Iterator[str]:
        """Give every full name, in the order of book and pack."""
        yield from self.signals
        yield from (f"call.{name}" for name in self.calls)
        yield from (f"limit.{name}" for name in self.limits)
        yield from (f"{ESTIMATE_PREFIX}{name}" for name in self.estimates)
        yield from self.items

    def matching_words(self, pattern: str) -> tuple[str, ...]:
        """Give the words that the one `*` of a pattern can represent, in the order of the book."""
        head, _, tail = pattern.partition("*")
        long_enough = len(head) + len(tail)
        matches = (
            name[len(head) : len(name) - len(tail)]
            for name in self.names()
            if len(name) > long_enough and name.startswith(head) and name.endswith(tail)
        )
        return tuple(dict.fromkeys(word for word in matches if "." not in word))

    def items_named(self, path: str) -> tuple[str, ...]:
        """Give the full ids of the items, or of the match, that a path can mean: itself, its flow's own, or any flow's."""
        kind, _, key = path.partition(".")
        for whole in (path, f"{kind}.{self.local}.{key}"):
            if whole in self.items or any(whole in labels for labels in self.matches.values()):
                return (whole,)
        return tuple(item for item in self.items if _short_id(item) == path)

    def is_removed(self, path: str) -> bool:
        """Check that a path means an item that an extending pack removed."""
        return any(path in (item, _short_id(item)) for item in self.removed)

    def matches_of(self, item: str) -> Mapping[str, str]:
        """Give the matches of an item, or the item or match itself, by id, each with its label."""
        if item in self.matches:
            return self.matches[item]
        label = next((labels[item] for labels in self.matches.values() if item in labels), "")
        return {item: label or self.items[item]}

    def is_inoperative(self, name: str) -> bool:
        """Check that a signal is dispatched inoperative, by its own name or by the beginning of it."""
        return any(name == part or name.startswith(f"{part}.") for part in self.inoperative)

    def nearest(self, path: str) -> str:
        """Give the nearest known name, '' where none is near; a `*` stays a `*`."""
        if not self.suggests:
            return ""
        known = set(self.names()) | {_short_id(item) for item in self.items}
        if "*" in path:
            place = path.split(".").index("*") if "*" in path.split(".") else 0
            known = {_with_wildcard(name, place) for name in known}
        return nearest_word(path, known)


def _short_id(item: str) -> str:
    """Shorten `flow.NAME.KEY` to `flow.KEY`."""
    kind, _, rest = item.partition(".")
    return f"{kind}.{rest.rpartition('.')[2]}"


def _with_wildcard(name: str, place: int) -> str:
    """Replace the part of a name at `place` by `*`."""
    parts = name.split(".")
    return ".".join("*" if index == place else part for index, part in enumerate(parts))
