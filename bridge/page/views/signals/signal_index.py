"""Signals: found by their names and titles, each with its value, its quality, where it comes from and who reads it.

Takes: a rig, and words that somebody looks for.  Gives: `SignalIndex`, made once for a rig, and its `Row`s.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from adapters.mapping.map_plan import FieldMapping, MapPlan
from bridge.runtime.device import Device
from rules.judge.condition_facts import signals_read
from rules.packs.figure_tables import TABLE_PREFIX
from rules.packs.model import Figure, Pack
from rules.packs.trip_sheet import TRIP_PREFIX
from rules.signals.book import BOOKS_FOLDER, load_book
from rules.signals.model import Quality, Signal, SignalKind
from rules.signals.number_format import format_value
from rules.signals.state import SignalState

MAX_ROWS = 60
MAX_QUERY_LENGTH = 100
QUALITY_WORDS: Mapping[Quality, str] = {
    Quality.FRESH: "fresh",
    Quality.STALE: "stale",
    Quality.INVALID: "invalid",
    Quality.ABSENT: "never seen",
}
_QUALITY_ORDER = {Quality.INVALID: 0, Quality.STALE: 1, Quality.FRESH: 2, Quality.ABSENT: 3}


@dataclass(frozen=True, slots=True)
class SignalRow:
    """One signal as it is now; `age_s` is None where it does not age or was never seen."""

    name: str
    label: str
    meaning: str
    chapter: str
    value: str
    quality: str
    quality_word: str
    age_s: float | None
    origin: str
    used_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SignalMatches:
    """What was found: how many in all, and the first of them."""

    match_count: int
    signal_count: int
    rows: tuple[SignalRow, ...]


class SignalIndex:
    """Every signal of a rig's pack, ready to be searched; the state is looked at when it is."""

    def __init__(self, device: Device) -> None:
        """Note what does not change."""
        self._device = device
        pack, plan = device.pack, device.session.receiver.mapper.plan
        titles = _chapters(pack)
        self._chapters = {
            name: _chapter(signal, titles.get(signal.chapter, "")) for name, signal in pack.signals.items()
        }
        self._used_by = _users_by_signal(pack)
        self._origins = {name: _origin(signal, plan, pack) for name, signal in pack.signals.items()}
        self._search_texts = {name: self._search_text(signal) for name, signal in pack.signals.items()}

    def find(self, query: str, quality: str = "") -> SignalMatches:
        """The signals in whose name, label, meaning or chapter every word stands.

        Args:
            query: words; what is longer than `LONGEST_QUERY` is cut off.
            quality: only those of this quality; '' for all.
        """
        words = query[:MAX_QUERY_LENGTH].casefold().split()
        state = self._device.session.judge.context.state
        names = [name for name, text in self._search_texts.items() if all(word in text for word in words)]
        if quality:
            names = [name for name in names if state.sample(name).quality == quality]
        if not words:
            names.sort(key=lambda name: _QUALITY_ORDER[state.sample(name).quality])
        shown = names[:MAX_ROWS]
        return SignalMatches(
            len(names), len(self._search_texts), tuple(self._row(name, state) for name in shown)
        )

    def _search_text(self, signal: Signal) -> str:
        """All that a signal is found by."""
        parts = (signal.name, signal.label, signal.meaning, self._chapters[signal.name])
        return " ".join((*parts, self._origins[signal.name])).casefold()

    def _row(self, name: str, state: SignalState) -> SignalRow:
        """One signal now."""
        signal, sample = state.signals[name], state.sample(name)
        ages = signal.max_age_s > 0 and sample.quality is not Quality.ABSENT
        return SignalRow(
            name,
            signal.label,
            signal.meaning,
            self._chapters[name],
            _value_text(signal, sample.value),
            sample.quality,
            QUALITY_WORDS[sample.quality],
            state.age_s(name, self._device.runner.clock()) if ages else None,
            self._origins[name],
            self._used_by.get(name, ()),
        )


def _value_text(signal: Signal, value: float | str | None) -> str:
    """The value as it is read, '' where there is none."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value if signal.kind is SignalKind.TEXT else value.replace("_", " ")
    return format_value(value, signal.unit)


@cache
def _shipped_books() -> tuple[tuple[frozenset[str], Mapping[int, str]], ...]:
    """The books that we ship: their signals and the titles of their chapters."""
    books = [load_book(path.stem) for path in sorted(BOOKS_FOLDER.glob("*.yaml"))]
    return tuple((frozenset(book.signals), book.chapters) for book in books)


def _chapters(pack: Pack) -> dict[int, str]:
    """The titles of the chapters of those books that the pack has whole."""
    found: dict[int, str] = {}
    for names, chapters in _shipped_books():
        if names <= pack.signals.keys():
            for chapter, title in chapters.items():
                found.setdefault(chapter, title)
    return found


def _chapter(signal: Signal, title: str) -> str:
    """A signal's ATA chapter, '' for what is no system's."""
    if signal.name.startswith(TRIP_PREFIX):
        return "Papers"
    if not signal.chapter:
        return title
    return f"ATA {signal.chapter:02d} {title}".rstrip()


def _origin(signal: Signal, plan: MapPlan, pack: Pack) -> str:
    """Where a signal comes from, in words."""
    if signal.name.startswith(TRIP_PREFIX):
        return "trip sheet"
    figure = next((one for one in pack.figures if one.signal.name == signal.name), None)
    if figure is not None:
        return _figure_origin(figure)
    bound = next((field for field in plan.fields if field.signal == signal.name), None)
    if bound is not None:
        return _field_origin(bound)
    return f"field {signal.name}" if plan.same_names else "no field of the map"


def _figure_origin(figure: Figure) -> str:
    """A figure: from which signals it is worked out."""
    name = "a table" if figure.uses.startswith(TABLE_PREFIX) else figure.uses
    return f"worked out: {name} of {', '.join(figure.input_signals)}"


def _field_origin(bound: FieldMapping) -> str:
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


def _users_by_signal(pack: Pack) -> dict[str, tuple[str, ...]]:
    """Per signal what reads it, by the names that people know."""
    found: dict[str, dict[str, None]] = {}
    for reader, names in _signal_users(pack):
        for name in names:
            found.setdefault(name, {})[reader] = None
    return {name: tuple(readers) for name, readers in found.items()}


def _signal_users(pack: Pack) -> Iterator[tuple[str, Iterable[str]]]:
    """Each thing that reads signals, and which."""
    for item in pack.items.values():
        yield f"{item.label} ({item.id})", _signals_of((item.condition, item.after))
    for watch in pack.watches:
        yield f"{watch.label} ({watch.id})", _signals_of((watch.expect, watch.applies))
    for gate in pack.gates:
        yield f"gate {gate.title}", _signals_of((gate.cue, gate.entry))
    for figure in pack.figures:
        yield f"figure {figure.signal.label} ({figure.signal.name})", figure.input_signals
    for strip in pack.traces:
        yield f"strip {strip.title}", (*strip.signals, *_signals_of((strip.begins, strip.ends)))


def _signals_of(conditions: Sequence[object]) -> frozenset[str]:
    """The signals that these conditions read."""
    return frozenset[str]().union(*(signals_read(condition) for condition in conditions if condition))
