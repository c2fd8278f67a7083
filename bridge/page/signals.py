"""Signals: found by their names and titles, each with its value, its quality, where it comes from and who reads it.

Takes: a rig, and words that somebody looks for.  Gives: `SignalIndex`, made once for a rig, and its `Row`s.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from adapters.mapping.plan import Field, Plan
from bridge.rig import Rig
from rules.judge.atoms import signals_read
from rules.packs.figures_tables import PREFIX as TABLE
from rules.packs.model import Figure, Pack
from rules.packs.trip import PREFIX
from rules.signals.book import BOOKS, load_book
from rules.signals.model import Kind, Quality, Signal
from rules.signals.numbers import say
from rules.signals.state import State

MOST_ROWS = 60
LONGEST_QUERY = 100
WORDS: Mapping[Quality, str] = {
    Quality.FRESH: "fresh",
    Quality.STALE: "stale",
    Quality.INVALID: "invalid",
    Quality.ABSENT: "never seen",
}
_ORDER = {Quality.INVALID: 0, Quality.STALE: 1, Quality.FRESH: 2, Quality.ABSENT: 3}


@dataclass(frozen=True, slots=True)
class Row:
    """One signal as it is now; `age_s` is None where it does not age or was never seen."""

    name: str
    label: str
    meaning: str
    chapter: str
    value: str
    quality: str
    word: str
    age_s: float | None
    origin: str
    readers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """What was found: how many in all, and the first of them."""

    matches: int
    of: int
    rows: tuple[Row, ...]


class SignalIndex:
    """Every signal of a rig's pack, ready to be searched; the state is looked at when it is."""

    def __init__(self, rig: Rig) -> None:
        """Note what does not change."""
        self._rig = rig
        pack, plan = rig.pack, rig.session.receiver.mapper.plan
        titles = _chapters(pack)
        self._chapters = {
            name: _chapter(signal, titles.get(signal.chapter, "")) for name, signal in pack.signals.items()
        }
        self._readers = _readers(pack)
        self._origins = {name: _origin(signal, plan, pack) for name, signal in pack.signals.items()}
        self._texts = {name: self._text(signal) for name, signal in pack.signals.items()}

    def find(self, query: str, quality: str = "") -> Found:
        """The signals in whose name, label, meaning or chapter every word stands.

        Args:
            query: words; what is longer than `LONGEST_QUERY` is cut off.
            quality: only those of this quality; '' for all.
        """
        words = query[:LONGEST_QUERY].casefold().split()
        state = self._rig.session.core.session.state
        names = [name for name, text in self._texts.items() if all(word in text for word in words)]
        if quality:
            names = [name for name in names if state.sample(name).quality == quality]
        if not words:
            names.sort(key=lambda name: _ORDER[state.sample(name).quality])
        shown = names[:MOST_ROWS]
        return Found(len(names), len(self._texts), tuple(self._row(name, state) for name in shown))

    def _text(self, signal: Signal) -> str:
        """All that a signal is found by."""
        parts = (signal.name, signal.label, signal.meaning, self._chapters[signal.name])
        return " ".join((*parts, self._origins[signal.name])).casefold()

    def _row(self, name: str, state: State) -> Row:
        """One signal now."""
        signal, sample = state.signals[name], state.sample(name)
        ages = signal.max_age_s > 0 and sample.quality is not Quality.ABSENT
        return Row(
            name,
            signal.label,
            signal.meaning,
            self._chapters[name],
            _value(signal, sample.value),
            sample.quality,
            WORDS[sample.quality],
            state.age_s(name, self._rig.run.clock()) if ages else None,
            self._origins[name],
            self._readers.get(name, ()),
        )


def _value(signal: Signal, value: float | str | None) -> str:
    """The value as it is read, '' where there is none."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value if signal.kind is Kind.TEXT else value.replace("_", " ")
    return say(value, signal.unit)


@cache
def _shipped() -> tuple[tuple[frozenset[str], Mapping[int, str]], ...]:
    """The books that we ship: their signals and the titles of their chapters."""
    books = [load_book(path.stem) for path in sorted(BOOKS.glob("*.yaml"))]
    return tuple((frozenset(book.signals), book.chapters) for book in books)


def _chapters(pack: Pack) -> dict[int, str]:
    """The titles of the chapters of those books that the pack has whole."""
    found: dict[int, str] = {}
    for names, chapters in _shipped():
        if names <= pack.signals.keys():
            for chapter, title in chapters.items():
                found.setdefault(chapter, title)
    return found


def _chapter(signal: Signal, title: str) -> str:
    """A signal's ATA chapter, '' for what is no system's."""
    if signal.name.startswith(PREFIX):
        return "Papers"
    if not signal.chapter:
        return title
    return f"ATA {signal.chapter:02d} {title}".rstrip()


def _origin(signal: Signal, plan: Plan, pack: Pack) -> str:
    """Where a signal comes from, in words."""
    if signal.name.startswith(PREFIX):
        return "trip sheet"
    figure = next((one for one in pack.figures if one.signal.name == signal.name), None)
    if figure is not None:
        return _worked_out(figure)
    bound = next((field for field in plan.fields if field.signal == signal.name), None)
    if bound is not None:
        return _field(bound)
    return f"field {signal.name}" if plan.same_names else "no field of the map"


def _worked_out(figure: Figure) -> str:
    """A figure: from which signals it is worked out."""
    name = "a table" if figure.uses.startswith(TABLE) else figure.uses
    return f"worked out: {name} of {', '.join(figure.reads)}"


def _field(bound: Field) -> str:
    """A field of the map, and what is done with it."""
    said = [f"field {bound.source}"]
    if bound.scale != 1.0:
        said.append(f"times {bound.scale:g}")
    if bound.offset != 0.0:
        said.append(f"plus {bound.offset:g}")
    if bound.unit:
        said.append(f"in {bound.unit}")
    if bound.invert:
        said.append("turned round")
    if bound.threshold:
        said.append(f"{bound.threshold.then} from {bound.threshold.at_least:g}")
    if bound.validity:
        said.append(f"valid by {bound.validity.source}")
    return ", ".join(said)


def _readers(pack: Pack) -> dict[str, tuple[str, ...]]:
    """Per signal what reads it, by the names that people know."""
    found: dict[str, dict[str, None]] = {}
    for reader, names in _reading(pack):
        for name in names:
            found.setdefault(name, {})[reader] = None
    return {name: tuple(readers) for name, readers in found.items()}


def _reading(pack: Pack) -> Iterator[tuple[str, Iterable[str]]]:
    """Each thing that reads signals, and which."""
    for item in pack.items.values():
        yield f"{item.label} ({item.id})", _of((item.condition, item.after))
    for watch in pack.watches:
        yield f"{watch.label} ({watch.id})", _of((watch.expect, watch.applies))
    for gate in pack.gates:
        yield f"gate {gate.title}", _of((gate.cue, gate.entry))
    for figure in pack.figures:
        yield f"figure {figure.signal.label} ({figure.signal.name})", figure.reads
    for strip in pack.strips:
        yield f"strip {strip.title}", (*strip.keep, *_of((strip.begins, strip.ends)))


def _of(conditions: Sequence[object]) -> frozenset[str]:
    """The signals that these conditions read."""
    return frozenset[str]().union(*(signals_read(condition) for condition in conditions if condition))
