"""Finds signals by words, and shows the value, quality, origin and users of each.

Takes: a device, and the words of a search.  Gives: `SignalIndex`, built once for each device, and its `SignalRow`s.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from adapters.mapping.map_plan import FieldMapping, MapPlan
from bridge.runtime.device import Device
from rules.judge.snapshot import Snapshot
from rules.packs.condition_facts import signals_read
from rules.packs.model import Figure, Pack
from rules.signals.book import BOOKS_FOLDER, load_book
from rules.signals.model import TRIP_PREFIX, Quality, Signal, SignalKind
from rules.signals.number_format import format_value
from rules.words import words_of_id

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
    """One signal as it is now; `age_s` is None if it does not age or was never received."""

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
    """The result of a search: the number of matches, and the first `MAX_ROWS` of them."""

    match_count: int
    signal_count: int
    rows: tuple[SignalRow, ...]


class SignalIndex:
    """The search index of all signals of a device's pack; values are read at each search."""

    def __init__(self, device: Device) -> None:
        """Build the texts that are searched, and what does not change in a row."""
        self._device = device
        pack, plan = device.pack, device.source.plan
        titles = _chapters(pack)
        self._chapters = {
            name: _chapter(signal, titles.get(signal.chapter, "")) for name, signal in pack.signals.items()
        }
        self._used_by = _users_by_signal(pack)
        self._origins = {name: _origin(signal, plan, pack) for name, signal in pack.signals.items()}
        self._search_texts = {name: self._search_text(signal) for name, signal in pack.signals.items()}

    def find(self, query: str, quality: str = "") -> SignalMatches:
        """Find the signals whose name, label, meaning, chapter or origin contains every word.

        Args:
            query: the words; a query longer than `MAX_QUERY_LENGTH` is cut off.
            quality: the quality to filter by; '' for all.
        """
        words = query[:MAX_QUERY_LENGTH].casefold().split()
        snapshot = self._device.session.current_snapshot()
        names = [name for name, text in self._search_texts.items() if all(word in text for word in words)]
        if quality:
            names = [name for name in names if snapshot.sample(name).quality == quality]
        if not words:
            names.sort(key=lambda name: _QUALITY_ORDER[snapshot.sample(name).quality])
        shown = names[:MAX_ROWS]
        return SignalMatches(
            len(names), len(self._search_texts), tuple(self._row(name, snapshot) for name in shown)
        )

    def _search_text(self, signal: Signal) -> str:
        """Join the texts by which a signal is found."""
        parts = (signal.name, signal.label, signal.meaning, self._chapters[signal.name])
        return " ".join((*parts, self._origins[signal.name])).casefold()

    def _row(self, name: str, snapshot: Snapshot) -> SignalRow:
        """Return one signal as it is now."""
        signal, sample = self._device.pack.signals[name], snapshot.sample(name)
        ages = signal.max_age_s > 0 and sample.quality is not Quality.ABSENT
        return SignalRow(
            name,
            signal.label,
            signal.meaning,
            self._chapters[name],
            _value_text(signal, sample.value),
            sample.quality,
            QUALITY_WORDS[sample.quality],
            snapshot.age_s(name, self._device.source.clock()) if ages else None,
            self._origins[name],
            self._used_by.get(name, ()),
        )


def _value_text(signal: Signal, value: float | str | None) -> str:
    """Format a value with its unit; '' if there is none."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value if signal.kind is SignalKind.TEXT else words_of_id(value)
    return format_value(value, signal.unit)


@cache
def _shipped_books() -> tuple[tuple[frozenset[str], Mapping[int, str]], ...]:
    """Load the shipped signal books: their signals, and the titles of their chapters."""
    books = [load_book(path.stem) for path in sorted(BOOKS_FOLDER.glob("*.yaml"))]
    return tuple((frozenset(book.signals), book.chapters) for book in books)


def _chapters(pack: Pack) -> dict[int, str]:
    """Collect the titles of the chapters of the books that the pack contains completely."""
    found: dict[int, str] = {}
    for names, chapters in _shipped_books():
        if names <= pack.signals.keys():
            for chapter, title in chapters.items():
                found.setdefault(chapter, title)
    return found


def _chapter(signal: Signal, title: str) -> str:
    """Return the title of a signal's ATA chapter; the title alone if the chapter has no number."""
    if signal.name.startswith(TRIP_PREFIX):
        return "Trip sheet"
    if not signal.chapter:
        return title
    return f"ATA {signal.chapter:02d} {title}".rstrip()


def _origin(signal: Signal, plan: MapPlan, pack: Pack) -> str:
    """Describe the origin of a signal."""
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
    """Describe a figure by its function and its input signals."""
    name = "a table" if figure.uses_table else figure.uses
    return f"computed: {name} of {', '.join(figure.input_signals)}"


def _field_origin(bound: FieldMapping) -> str:
    """Describe a field of the map file, and the conversion of its values."""
    parts = [f"field {bound.source}"]
    if bound.scale != 1.0:
        parts.append(f"times {bound.scale:g}")
    if bound.offset != 0.0:
        parts.append(f"plus {bound.offset:g}")
    if bound.unit:
        parts.append(f"in {bound.unit}")
    if bound.invert:
        parts.append("inverted")
    if bound.threshold:
        parts.append(f"{bound.threshold.then} from {bound.threshold.at_least:g}")
    if bound.validity:
        parts.append(f"valid by {bound.validity.source}")
    return ", ".join(parts)


def _users_by_signal(pack: Pack) -> dict[str, tuple[str, ...]]:
    """Collect the users of each signal, by their titles."""
    found: dict[str, dict[str, None]] = {}
    for user, names in _signal_users(pack):
        for name in names:
            found.setdefault(name, {})[user] = None
    return {name: tuple(users) for name, users in found.items()}


def _signal_users(pack: Pack) -> Iterator[tuple[str, Iterable[str]]]:
    """Yield each item, watch, gate, figure and trace with the signals that it reads."""
    for item in pack.items.values():
        yield f"{item.label} ({item.id})", signals_read(item.condition, item.after)
    for watch in pack.watches:
        yield f"{watch.label} ({watch.id})", signals_read(watch.expect, watch.applies)
    for gate in pack.gates:
        yield f"gate {gate.title}", signals_read(gate.cue, gate.entry)
    for figure in pack.figures:
        yield f"figure {figure.signal.label} ({figure.signal.name})", figure.input_signals
    for trace in pack.traces:
        yield f"trace {trace.title}", (*trace.signals, *signals_read(trace.begins, trace.ends))
