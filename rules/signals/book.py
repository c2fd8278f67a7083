"""Signal books: the named quantities of an aeroplane by ATA chapter, read from YAML.

Takes: a book's name (one that we ship) or path, or the `signals:` section of a pack.  Gives: signals by name,
or `InputFaults` with every fault of every book that was read.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path as FilePath
from types import MappingProxyType

from pydantic import BaseModel, ConfigDict, Field

from rules.faults import Fault, InputFaults, Place
from rules.signals.book_entry import expand_entry, parse_seconds
from rules.signals.model import Signal
from rules.source import SourceDocument, did_you_mean, read_source
from rules.source.fault_collector import FaultCollector, KeyPath

BOOKS_FOLDER = FilePath(__file__).parent / "books"
_DEFAULT_MAX_AGE_S = 3.0


@dataclass(frozen=True, slots=True)
class SignalBook:
    """Book with its includes: the signals, and the titles of their chapters."""

    name: str
    title: str
    signals: Mapping[str, Signal]
    chapters: Mapping[int, str]


class BookForm(BaseModel):
    """Top level of a book's file; chapters are checked one by one, so that every fault is found."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    book: str = Field(min_length=1, description="Name of the book.")
    title: str = Field(min_length=1, description="Aeroplanes of the book, in one line.")
    includes: list[str] = Field(default=[], description="Other books whose signals belong to this one.")
    default_max_age: str | None = Field(
        default=None, description="Maximum age for signals without max_age; default 3 s."
    )
    chapters: dict[int | str, object] = Field(
        min_length=1, description="Chapters by number, 0 or 5 to 91 (ATA iSpec 2200)."
    )


class ChapterForm(BaseModel):
    """One chapter; its entries are checked one by one."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    title: str = Field(default="", description="Name of the chapter.")
    signals: dict[str, object] = Field(min_length=1, description="Signals by name.")


@dataclass(slots=True)
class _ParsedChapters:
    """Parsed chapters: signals by name, the place of each, and the chapters' titles."""

    signals: dict[str, Signal] = field(default_factory=dict)
    places: dict[str, KeyPath] = field(default_factory=dict)
    titles: dict[int, str] = field(default_factory=dict)


def load_book(name_or_path: str) -> SignalBook:
    """Read one book with its includes.

    Args:
        name_or_path: `twin_jet`, a book that we ship; or a path to a `.yaml` file.

    Raises:
        InputFaults: Every fault of this book and of its includes.
    """
    path = _find_book(name_or_path, None)
    return _load_shipped(path) if path.parent == BOOKS_FOLDER else _load_with_includes(path)


def load_books(names: Iterable[str]) -> dict[str, Signal]:
    """Read several books; a book included twice is read once, a name in two books is a fault."""
    loader = _BookLoader()
    for name in names:
        loader.load_named(name)
    loader.raise_faults()
    return {name: signal for signals in loader.signals.values() for name, signal in signals.items()}


def parse_signals(source: SourceDocument, path: KeyPath) -> dict[str, Signal]:
    """Parse a pack's own signals: chapters by number at this path, in the same form as in a book.

    Raises:
        InputFaults: Every fault of the section.
    """
    faults = FaultCollector(source)
    read = _parse_chapters(faults, path, _DEFAULT_MAX_AGE_S)
    if faults.faults:
        raise InputFaults(faults.faults)
    return read.signals


@lru_cache(maxsize=16)
def _load_shipped(path: FilePath) -> SignalBook:
    """Read a book that we ship, once per process."""
    return _load_with_includes(path)


def _load_with_includes(path: FilePath) -> SignalBook:
    """Read a book and its includes as one."""
    loader = _BookLoader()
    loader.load(path, ())
    loader.raise_faults()
    signals = {name: signal for part in loader.signals.values() for name, signal in part.items()}
    name, title = loader.titles[path]
    chapters = dict(sorted(loader.chapters.items()))
    return SignalBook(name, title, MappingProxyType(signals), MappingProxyType(chapters))


class _BookLoader:
    """Reads books, included ones first, and collects all their faults."""

    def __init__(self) -> None:
        self.signals: dict[FilePath, dict[str, Signal]] = {}
        self.titles: dict[FilePath, tuple[str, str]] = {}
        self.chapters: dict[int, str] = {}
        self._faults: list[Fault] = []

    def raise_faults(self) -> None:
        """Raise all faults together, if there are any."""
        if self._faults:
            raise InputFaults(self._faults)

    def load_named(self, name: str) -> None:
        """Read a book by its name; an unknown name is one fault among the others."""
        try:
            path = _find_book(name, None)
        except InputFaults as refused:
            self._faults.extend(refused.faults)
        else:
            self.load(path, ())

    def load(self, path: FilePath, included_by: tuple[FilePath, ...]) -> None:
        """Read a book and its includes; a book is not read twice."""
        if path in self.titles:
            return
        try:
            faults = FaultCollector(read_source(path))
        except InputFaults as refused:
            self._faults.extend(refused.faults)
            return
        form = faults.validate(BookForm, ())
        age_s = _DEFAULT_MAX_AGE_S
        if form is not None and form.default_max_age is not None:
            age_s = parse_seconds(faults, form.default_max_age, ("default_max_age",)) or 0.0
        self.titles[path] = (form.book, form.title) if form else (path.stem, path.stem)
        for number, name in enumerate(form.includes if form else ()):
            self._include(faults, ("includes", number), name, (*included_by, path))
        read = _parse_chapters(faults, ("chapters",), age_s)
        self._check_duplicates(faults, read)
        self.signals[path] = read.signals
        self.chapters.update(read.titles)
        self._faults.extend(faults.faults)

    def _include(
        self, faults: FaultCollector, at: KeyPath, name: str, included_by: tuple[FilePath, ...]
    ) -> None:
        """Read an included book, unless books include each other."""
        try:
            path = _find_book(name, included_by[-1].parent)
        except InputFaults as refused:
            faults.add(at, refused.faults[0].what, refused.faults[0].expected, refused.faults[0].hint)
            return
        if path in included_by:
            circle = " includes ".join(book.stem for book in (*included_by[included_by.index(path) :], path))
            faults.add(at, f"books include each other: {circle}", "no circle")
            return
        self.load(path, included_by)

    def _check_duplicates(self, faults: FaultCollector, parsed: _ParsedChapters) -> None:
        """Add a fault for each name that another book has already."""
        for path, others in self.signals.items():
            for name in [name for name in parsed.signals if name in others]:
                what = f"signal {name} is also in book {self.titles[path][0]}"
                faults.add(parsed.places[name], what, "each name once", key=True)


def _parse_chapters(faults: FaultCollector, path: KeyPath, age_s: float) -> _ParsedChapters:
    """Parse the chapters at this path."""
    read = _ParsedChapters()
    chapters = faults.source.value_at(path)
    for key in chapters if isinstance(chapters, dict) else ():
        number = int(key) if str(key).isdecimal() else -1
        if number != 0 and not 5 <= number <= 91:
            expected = "0 for the simulator, or 5 to 91 of ATA iSpec 2200"
            faults.add((*path, key), f"{key} is not an ATA chapter", expected, key=True)
        chapter = faults.validate(ChapterForm, (*path, key))
        if chapter is None:
            continue
        read.titles[number] = chapter.title
        for name in chapter.signals:
            _add_entry(faults, (*path, key, "signals", name), number, age_s, read)
    return read


def _add_entry(
    faults: FaultCollector, at: KeyPath, number: int, age_s: float, parsed: _ParsedChapters
) -> None:
    """Add the signals of one entry; of two equal names the first counts."""
    for signal in expand_entry(faults, at, number, age_s):
        if signal.name in parsed.signals:
            first = faults.source.place(parsed.places[signal.name], key=True)
            faults.add(at, f"duplicate signal {signal.name}", f"once; the first is at {first}", key=True)
        else:
            parsed.signals[signal.name], parsed.places[signal.name] = signal, at


def _find_book(name_or_path: str, relative_to: FilePath | None) -> FilePath:
    """Find the file of a book: a path (from the including book's folder), a book in that folder, or one that we ship."""
    if name_or_path.endswith((".yaml", ".yml", ".json")):
        return ((relative_to or FilePath()) / name_or_path).resolve()
    for folder in (relative_to or BOOKS_FOLDER, BOOKS_FOLDER):
        path = folder / f"{name_or_path}.yaml"
        if path.parent == folder and path.is_file():
            return path.resolve()
    shipped = sorted(path.stem for path in BOOKS_FOLDER.glob("*.yaml"))
    hint = did_you_mean(name_or_path, shipped)
    raise InputFaults(
        [Fault(Place(name_or_path), "no such signal book", f"one of {', '.join(shipped)}", hint)]
    )
