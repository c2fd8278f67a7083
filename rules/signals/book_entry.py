"""Entries of a signal book: their form, and the signals that each defines.

Takes: a `SourceDocument` and the path of an entry in it.  Gives: signals; faults go to the `FaultCollector`,
each with its place, and only the wrong entry is left out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pydantic import BaseModel, ConfigDict, Field

from rules.signals import units
from rules.signals.amounts import comma_hint, parse_amount, parse_range
from rules.signals.equality import FULL_CIRCLE_DEG
from rules.signals.model import Band, Signal, SignalKind
from rules.source.fault_collector import FaultCollector, KeyPath
from rules.source.suggestions import did_you_mean
from rules.words import count_in_digits, join_or, words_of_id

_NAME = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)*")
_WORD = re.compile(r"[a-z0-9][a-z0-9_]*")
_BRACES = re.compile(r"\{([^{}]*)\}")
# Reserved by the rule language: prefixes of other kinds of names, and its keywords.
_RESERVED_PREFIXES = frozenset({"call", "limit", "figure", "estimate", "flow", "checklist", "item"})
_RESERVED_WORDS = frozenset({
    "if", "then", "or", "and", "not", "any", "for", "since", "in", "within", "the", "last", "of", "is",
    "happened", "became", "swept", "before", "after", "true", "false", "met", "highest", "lowest",
    "change", "rate", "count",
})  # fmt: skip


class SignalEntry(BaseModel):
    """Signal as an entry of a book defines it; the kind is the key."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    label: str = Field(
        min_length=1, description="Name that a pilot uses; {} is the word in braces of the signal's name."
    )
    means: str = Field(
        min_length=1, description="Meaning in one line; {} is the word in braces of the signal's name."
    )
    switch: list[str] | None = Field(default=None, description="Two words, the resting one first.")
    choice: list[str] | None = Field(default=None, description="Three words or more.")
    quantity: str | None = Field(default=None, description="Unit of a number.")
    angle: str | None = Field(default=None, description="Unit of a direction: deg.")
    text: int | None = Field(default=None, ge=1, le=200, description="Maximum length of a text, 1 to 200.")
    count: str | None = Field(default=None, description="Range of a whole number, low..high.")
    range: str | None = Field(
        default=None, description="Range of a quantity or angle in its unit, low..high; required for both."
    )
    phrases: dict[str, str] | None = Field(
        default=None,
        description="Words of a switch or choice as facts that a pilot says, where label and word make no sentence; {} as in the label.",
    )
    rounded: str | None = Field(
        default=None,
        description="Step to which texts round a quantity or angle, with its unit; the value itself is judged.",
    )
    sides: list[str] | None = Field(
        default=None,
        min_length=2,
        max_length=2,
        description="Words for a negative and a positive quantity, said after its size instead of a sign: [left, right].",
    )
    bands: dict[str, str] | None = Field(
        default=None,
        description="Names of parts of a quantity's range, low..high, which texts say instead of the number: {rich: 90..100}.",
    )
    max_age: str | None = Field(
        default=None,
        description="Maximum age of the value; default: the book's default_max_age; 0 s for a value that does not age.",
    )

    def named_kinds(self) -> list[SignalKind]:
        """Give the kinds that the entry names; exactly one is valid."""
        values = {
            SignalKind.SWITCH: self.switch, SignalKind.CHOICE: self.choice, SignalKind.QUANTITY: self.quantity, SignalKind.ANGLE: self.angle,
            SignalKind.TEXT: self.text, SignalKind.COUNT: self.count,
        }  # fmt: skip
        return [kind for kind, value in values.items() if value is not None]


def parse_seconds(faults: FaultCollector, text: str, path: KeyPath) -> float | None:
    """Read a time such as `3 s`, 0 or more, in seconds; None after a fault."""
    amount = parse_amount(text)
    if amount is None or amount.value < 0:
        faults.add(path, f"'{text}' is not a time", "a number with s, min or h: 3 s", comma_hint(text))
        return None
    try:
        return units.to_seconds(amount.value, amount.unit)
    except units.UnitFault as fault:
        faults.add(path, fault.what, "a time: s, min or h", fault.hint)
        return None


@dataclass(frozen=True, slots=True)
class _Measure:
    """Parsed value of the kind's key: unit, ends of the range, words, maximum length of a text."""

    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    words: tuple[str, ...] = ()
    max_length: int = 0


def expand_entry(
    faults: FaultCollector, path: KeyPath, chapter: int, default_max_age_s: float
) -> list[Signal]:
    """Build the signals of one entry.

    Args:
        faults: Collector of the faults; its document is read.
        path: The entry's path; the last part is the name, possibly with `{a,b}`.
        chapter: The ATA chapter of the entry.
        default_max_age_s: The age limit where the entry has none, in seconds.

    Returns:
        One signal for each word in braces, one without braces, none where the entry is wrong.
    """
    before = len(faults.faults)
    names = _expand_names(faults, path)
    entry = faults.validate(SignalEntry, path)
    if entry is None:
        return []
    kind, measure = _parse_kind(faults, path, entry)
    age_s = (
        default_max_age_s
        if entry.max_age is None
        else parse_seconds(faults, entry.max_age, (*path, "max_age"))
    )
    _check_labels(faults, path, entry, several=len(names) > 1)
    _check_phrases(faults, path, entry, measure.words if measure else ())
    shown_step = _parse_step(faults, path, entry, measure.unit if measure else "")
    bands = _parse_bands(faults, path, entry, measure) if kind is SignalKind.QUANTITY else ()
    for key in ("sides", "bands"):
        if getattr(entry, key) and kind is not SignalKind.QUANTITY:
            faults.add((*path, key), f"only a quantity has {key}", f"{key} with quantity", key=True)
    if kind is None or measure is None or age_s is None or len(faults.faults) > before:
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
            phrases=_phrases_of(entry, measure.words, word),
            max_length=measure.max_length,
            max_age_s=age_s,
            shown_step=shown_step,
            sides=tuple(entry.sides or ()),
            bands=bands,
        )
        for name, word in names
    ]


def _expand_names(faults: FaultCollector, path: KeyPath) -> list[tuple[str, str]]:
    """Expand the braces of a key: each name, with its word for the label."""
    key = str(path[-1])
    braces = _BRACES.search(key)
    words = [word.strip() for word in braces[1].split(",")] if braces else [""]
    names = [(_BRACES.sub(word, key, count=1) if braces else key, words_of_id(word)) for word in words]
    for name, _ in names:
        if not _NAME.fullmatch(name):
            expected = "small letters, digits and _ in parts with dots between; at most one {a,b}"
            faults.add(path, f"'{key}' is not a signal's name", expected, key=True)
            break
        if name.split(".")[0] in _RESERVED_PREFIXES or name in _RESERVED_WORDS:
            faults.add(path, f"'{name}' is a reserved name", "another name", key=True)
    if len(set(words)) < len(words):
        faults.add(path, f"duplicate word in the braces of '{key}'", "each word once", key=True)
    return names


def _check_labels(faults: FaultCollector, path: KeyPath, entry: SignalEntry, *, several: bool) -> None:
    """Check that label and meaning are present and differ between the signals of one entry."""
    for key, text in (("label", entry.label), ("means", entry.means)):
        if not text.strip():
            faults.add(
                (*path, key), f"the {key} is empty", "how a pilot says it" if key == "label" else "one line"
            )
        if "{}" in text and "{" not in str(path[-1]):
            faults.add((*path, key), "unexpected {}: the name has no braces", "a name with {a,b}, or no {}")
    if several and "{}" not in entry.label:
        faults.add((*path, "label"), "several signals would have the same label", "{} for the word in braces")


def _phrases_of(entry: SignalEntry, words: tuple[str, ...], match: str) -> tuple[str, ...]:
    """Phrases in the order of the words, '' where there is none; none at all where the entry has none."""
    if not entry.phrases:
        return ()
    return tuple(entry.phrases.get(word, "").replace("{}", match) for word in words)


def _check_phrases(faults: FaultCollector, path: KeyPath, entry: SignalEntry, words: tuple[str, ...]) -> None:
    """Check that each phrase belongs to a word, says something, and names the match where there are several."""
    for word, phrase in (entry.phrases or {}).items():
        at = (*path, "phrases", word)
        if word not in words:
            expected = join_or(words) if words else "a switch or a choice"
            faults.add(
                at, f"'{word}' is not a word of this signal", expected, did_you_mean(word, words), key=True
            )
        elif not phrase.strip():
            faults.add(at, "the phrase is empty", "how a pilot says it, or no entry")
        elif ("{}" in phrase) != ("{" in str(path[-1])):
            several = "{" in str(path[-1])
            faults.add(at, "{} is missing" if several else "unexpected {}", "{} where the name has {a,b}")


def _parse_step(faults: FaultCollector, path: KeyPath, entry: SignalEntry, unit: str) -> float:
    """Read the step to which texts round, in the unit of the signal; 0 for none, or after a fault."""
    if entry.rounded is None:
        return 0.0
    amount = parse_amount(entry.rounded)
    if not unit or amount is None or amount.value <= 0 or amount.unit != unit:
        expected = f"a step in {unit}: 1 {unit}" if unit else "rounded with quantity or angle"
        faults.add(
            (*path, "rounded"), f"'{entry.rounded}' is not a step", expected, comma_hint(entry.rounded)
        )
        return 0.0
    return amount.value


def _parse_bands(
    faults: FaultCollector, path: KeyPath, entry: SignalEntry, measure: _Measure | None
) -> tuple[Band, ...]:
    """Read the named parts of a range; those that are wrong are left out."""
    found = []
    for name, text in (entry.bands or {}).items():
        ends = parse_range(text)
        if ends is None or ends[0] > ends[1]:
            faults.add(
                (*path, "bands", name), f"'{text}' is not a range", "low..high in the range of the signal"
            )
        elif measure is not None and not measure.low <= ends[0] <= ends[1] <= measure.high:
            expected = f"within {measure.low:g}..{measure.high:g}"
            faults.add((*path, "bands", name), f"{text} is outside of the signal's range", expected)
        else:
            found.append(Band(name, *ends))
    return tuple(found)


def _parse_kind(
    faults: FaultCollector, path: KeyPath, entry: SignalEntry
) -> tuple[SignalKind | None, _Measure | None]:
    """Parse the kind and its value; a fault where there is not exactly one kind."""
    kinds = entry.named_kinds()
    if len(kinds) != 1:
        what = f"two kinds: {' and '.join(kinds)}" if kinds else "the kind is missing"
        faults.add(path, what, f"one of {', '.join(SignalKind)}", key=True)
        return None, None
    kind = kinds[0]
    if entry.range is not None and kind not in (SignalKind.QUANTITY, SignalKind.ANGLE):
        faults.add(
            (*path, "range"), f"a {kind} has no range of its own", "range with quantity or angle", key=True
        )
    if kind in (SignalKind.SWITCH, SignalKind.CHOICE):
        return kind, _parse_words(
            faults, (*path, kind.value), kind, tuple(entry.switch or entry.choice or ())
        )
    if kind is SignalKind.TEXT:
        return kind, _Measure(max_length=entry.text or 0)
    if kind is SignalKind.COUNT:
        return kind, _parse_range(faults, (*path, "count"), entry.count or "", "", 0.0, None)
    return kind, _parse_quantity(faults, path, entry, kind)


def _parse_words(
    faults: FaultCollector, path: KeyPath, kind: SignalKind, words: tuple[str, ...]
) -> _Measure | None:
    """Parse the words: a switch has two, a choice three or more, each once."""
    good = len(words) == 2 if kind is SignalKind.SWITCH else len(words) >= 3
    if not good:
        expected = "two words, the resting one first" if kind is SignalKind.SWITCH else "three words or more"
        hint = (
            "two words are a switch"
            if len(words) == 2
            else "more words are a choice"
            if len(words) > 2
            else ""
        )
        faults.add(path, f"a {kind} with {count_in_digits(len(words), 'word')}", expected, hint)
    for number, word in enumerate(words):
        if not _WORD.fullmatch(word):
            faults.add((*path, number), f"'{word}' is not a word", "small letters, digits and _")
        elif word in words[:number]:
            faults.add((*path, number), f"duplicate '{word}'", "each word once")
    return _Measure(words=words)


def _parse_quantity(
    faults: FaultCollector, path: KeyPath, entry: SignalEntry, kind: SignalKind
) -> _Measure | None:
    """Parse unit and range of a quantity or an angle."""
    unit = entry.quantity or entry.angle or ""
    if not unit or not units.is_known(unit):
        faults.add((*path, kind.value), f"unknown unit '{unit}'", "a unit", units.unit_hint(unit))
    elif kind is SignalKind.ANGLE and unit != "deg":
        faults.add((*path, kind.value), f"an angle in {unit}", "deg", "a quantity may be in any unit")
    if entry.range is None:
        faults.add(path, "range is missing", "the key range, such as 0..500", key=True)
        return None
    circle = (0.0, FULL_CIRCLE_DEG) if kind is SignalKind.ANGLE else (None, None)
    return _parse_range(faults, (*path, "range"), entry.range, unit, *circle)


def _parse_range(
    faults: FaultCollector, path: KeyPath, text: str, unit: str, minimum: float | None, maximum: float | None
) -> _Measure | None:
    """Parse `low..high` within bounds, low below high."""
    ends = parse_range(text)
    if ends is None:
        faults.add(path, f"'{text}' is not a range", "low..high, such as 0..500", comma_hint(text))
        return None
    low, high = ends
    if low >= high:
        faults.add(path, f"the range {text} is empty", "low below high")
    if (minimum is not None and low < minimum) or (maximum is not None and high > maximum):
        faults.add(
            path, f"the range {text} is too wide", f"{minimum:g} or more" if maximum is None else "0..360"
        )
    return _Measure(unit=unit, low=low, high=high)
