"""One line of a signal book: its shape, and the signals that it makes.

Takes: a `Source` and the path of an entry in it.  Gives: signals; what is wrong goes to the `Faults` handed
in, every fault at its place, and only the wrong entry is left out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from rules.faults import Fault
from rules.signals import units
from rules.signals.amounts import comma_hint, read_amount, read_range
from rules.signals.model import Kind, Signal
from rules.source import Source, faults_of

Path = tuple[str | int, ...]
Shape = TypeVar("Shape", bound=BaseModel)

_NAME = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)*")
_WORD = re.compile(r"[a-z0-9][a-z0-9_]*")
_BRACES = re.compile(r"\{([^{}]*)\}")
# What the language keeps for itself: other kinds of names, and its own words.
_TAKEN = frozenset({"call", "limit", "figure", "flow", "checklist", "item"})
_LANGUAGE = frozenset({
    "if", "then", "or", "and", "not", "any", "for", "since", "in", "within", "the", "last", "of", "is",
    "happened", "became", "swept", "before", "after", "true", "false", "met", "highest", "lowest",
    "change", "rate", "count",
})  # fmt: skip


class Entry(BaseModel):
    """A signal as its line says it; the kind is the key."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    label: str = Field(min_length=1)
    means: str = Field(min_length=1)
    switch: list[str] | None = None
    choice: list[str] | None = None
    quantity: str | None = None
    angle: str | None = None
    text: int | None = Field(default=None, ge=1, le=200)
    count: str | None = None
    range: str | None = None
    max_age: str | None = None

    def kinds(self) -> list[Kind]:
        """The kinds that the line names; it should be one."""
        said = {
            Kind.SWITCH: self.switch, Kind.CHOICE: self.choice, Kind.QUANTITY: self.quantity, Kind.ANGLE: self.angle,
            Kind.TEXT: self.text, Kind.COUNT: self.count,
        }  # fmt: skip
        return [kind for kind, measure in said.items() if measure is not None]


@dataclass(slots=True)
class Faults:
    """Where faults gather while a file is read."""

    source: Source
    found: list[Fault] = field(default_factory=list)

    def add(self, path: Path, what: str, expected: str = "", hint: str = "", *, key: bool = False) -> None:
        """Note a fault at a value, or at its key."""
        self.found.append(Fault(self.source.place(path, key=key), what, expected, hint))

    def shape(self, model: type[Shape], path: Path) -> Shape | None:
        """The data at a path in the shape of a model; None where it does not have it."""
        try:
            return model.model_validate(self.source.at(path))
        except ValidationError as error:
            self.found.extend(faults_of(error, self.source, path, model))
            return None

    def seconds(self, text: str, path: Path) -> float | None:
        """A time such as `3 s`, of 0 or more."""
        amount = read_amount(text)
        if amount is None or amount.value < 0:
            self.add(path, f"'{text}' is not a time", "a number with s, min or h: 3 s", comma_hint(text))
            return None
        try:
            return units.seconds(amount.value, amount.unit)
        except units.UnitFault as fault:
            self.add(path, fault.what, "a time: s, min or h", fault.hint)
            return None


@dataclass(frozen=True, slots=True)
class _Measure:
    """What the kind's key says: unit, ends of the range, words, longest text."""

    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    words: tuple[str, ...] = ()
    longest: int = 0


def signals_of(faults: Faults, path: Path, chapter: int, default_max_age_s: float) -> list[Signal]:
    """The signals of one entry.

    Args:
        faults: Where to say what is wrong; its source is read.
        path: The entry's place; the last part is the name, perhaps with `{a,b}`.
        chapter: The ATA chapter that it stands in.
        default_max_age_s: The age limit where the entry says none, in seconds.

    Returns:
        One signal for each word in braces, one without braces, none where the entry is wrong.
    """
    before = len(faults.found)
    names = _names(faults, path)
    entry = faults.shape(Entry, path)
    if entry is None:
        return []
    kind, measure = _measure(faults, path, entry)
    age_s = default_max_age_s if entry.max_age is None else faults.seconds(entry.max_age, (*path, "max_age"))
    _label(faults, path, entry, several=len(names) > 1)
    if kind is None or measure is None or age_s is None or len(faults.found) > before:
        return []
    return [
        Signal(
            name,
            kind,
            chapter,
            entry.label.replace("{}", word),
            entry.means.replace("{}", word),
            unit=measure.unit,
            low=measure.low,
            high=measure.high,
            words=measure.words,
            longest=measure.longest,
            max_age_s=age_s,
        )
        for name, word in names
    ]


def _names(faults: Faults, path: Path) -> list[tuple[str, str]]:
    """Each name that the key stands for, with its word as spoken."""
    key = str(path[-1])
    braces = _BRACES.search(key)
    words = [word.strip() for word in braces[1].split(",")] if braces else [""]
    names = [(_BRACES.sub(word, key, count=1) if braces else key, word.replace("_", " ")) for word in words]
    for name, _ in names:
        if not _NAME.fullmatch(name):
            expected = "small letters, digits and _ in parts with dots between; at most one {a,b}"
            faults.add(path, f"'{key}' is not a signal's name", expected, key=True)
            break
        if name.split(".")[0] in _TAKEN or name in _LANGUAGE:
            faults.add(path, f"'{name}' would be taken for a part of the language", "another name", key=True)
    if len(set(words)) < len(words):
        faults.add(path, f"a word stands twice in the braces of '{key}'", "each word once", key=True)
    return names


def _label(faults: Faults, path: Path, entry: Entry, *, several: bool) -> None:
    """Label and meaning are said, and tell the signals of one line apart."""
    for key, text in (("label", entry.label), ("means", entry.means)):
        if not text.strip():
            faults.add(
                (*path, key), f"the {key} is empty", "how a pilot says it" if key == "label" else "one line"
            )
        if "{}" in text and "{" not in str(path[-1]):
            faults.add((*path, key), "{} stands for nothing here", "a name with {a,b}, or no {}")
    if several and "{}" not in entry.label:
        faults.add((*path, "label"), "several signals would have the same label", "{} for the word in braces")


def _measure(faults: Faults, path: Path, entry: Entry) -> tuple[Kind | None, _Measure | None]:
    """The kind, and what it says; a fault where there is not exactly one."""
    kinds = entry.kinds()
    if len(kinds) != 1:
        what = f"two kinds: {' and '.join(kinds)}" if kinds else "the kind is missing"
        faults.add(path, what, f"one of {', '.join(Kind)}", key=True)
        return None, None
    kind = kinds[0]
    if entry.range is not None and kind not in (Kind.QUANTITY, Kind.ANGLE):
        faults.add(
            (*path, "range"), f"a {kind} has no range of its own", "range with quantity or angle", key=True
        )
    if kind in (Kind.SWITCH, Kind.CHOICE):
        return kind, _words(faults, (*path, kind.value), kind, tuple(entry.switch or entry.choice or ()))
    if kind is Kind.TEXT:
        return kind, _Measure(longest=entry.text or 0)
    if kind is Kind.COUNT:
        return kind, _ranged(faults, (*path, "count"), entry.count or "", "", 0.0, None)
    return kind, _quantity(faults, path, entry, kind)


def _words(faults: Faults, path: Path, kind: Kind, words: tuple[str, ...]) -> _Measure | None:
    """The enumerators: a switch has two, a choice three or more, each once."""
    good = len(words) == 2 if kind is Kind.SWITCH else len(words) >= 3
    if not good:
        expected = "two words, the resting one first" if kind is Kind.SWITCH else "three words or more"
        hint = (
            "two words are a switch"
            if len(words) == 2
            else "more words are a choice"
            if len(words) > 2
            else ""
        )
        faults.add(path, f"a {kind} with {len(words)} word{'s' * (len(words) != 1)}", expected, hint)
    for number, word in enumerate(words):
        if not _WORD.fullmatch(word):
            faults.add((*path, number), f"'{word}' is not a word", "small letters, digits and _")
        elif word in words[:number]:
            faults.add((*path, number), f"'{word}' stands twice", "each word once")
    return _Measure(words=words)


def _quantity(faults: Faults, path: Path, entry: Entry, kind: Kind) -> _Measure | None:
    """Unit and range of a quantity or an angle."""
    unit = entry.quantity or entry.angle or ""
    if not unit or not units.known(unit):
        near = units.suggest(unit)
        faults.add(
            (*path, kind.value), f"unknown unit '{unit}'", "a unit", f"did you mean {near}?" if near else ""
        )
    elif kind is Kind.ANGLE and unit != "deg":
        faults.add((*path, kind.value), f"an angle in {unit}", "deg", "a quantity may be in any unit")
    if entry.range is None:
        faults.add(path, "range is missing", "the key range, such as 0..500", key=True)
        return None
    circle = (0.0, 360.0) if kind is Kind.ANGLE else (None, None)
    return _ranged(faults, (*path, "range"), entry.range, unit, *circle)


def _ranged(
    faults: Faults, path: Path, text: str, unit: str, least: float | None, most: float | None
) -> _Measure | None:
    """`low..high` within bounds, low below high."""
    ends = read_range(text)
    if ends is None:
        faults.add(path, f"'{text}' is not a range", "low..high, such as 0..500", comma_hint(text))
        return None
    low, high = ends
    if low >= high:
        faults.add(path, f"the range {text} is empty", "low below high")
    if (least is not None and low < least) or (most is not None and high > most):
        faults.add(path, f"the range {text} is too wide", f"{least:g} or more" if most is None else "0..360")
    return _Measure(unit=unit, low=low, high=high)
