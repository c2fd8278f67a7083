"""Texts of counts, dates and durations for screens and documents.

Takes: numbers and words.  Gives: text.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from rules.arithmetic.times import format_duration

_NUMBER_WORDS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


def number_word(count: int) -> str:
    """Write a count as a word up to twelve, then in digits."""
    return _NUMBER_WORDS[count] if count < len(_NUMBER_WORDS) else str(count)


def count_text(count: int, noun: str, plural: str = "") -> str:
    """Write a count with its noun: `one finding`, `three findings`."""
    return f"{number_word(count)} {noun if count == 1 else plural or f'{noun}s'}"


def faulty_conditions_text(count: int) -> str:
    """Say how many conditions of a pack have faults, and what follows from it."""
    words = "condition has faults and is" if count == 1 else "conditions have faults and are"
    return f"{count} {words} shown as unknown"


def plural_level(level: str, count: int) -> str:
    """Write a level in the plural for any count but one: `cautions`, `advisories`."""
    if count == 1:
        return level
    return f"{level[:-1]}ies" if level.endswith("y") else f"{level}s"


def capitalised(text: str) -> str:
    """Make the first letter a capital."""
    return text[:1].upper() + text[1:]


def long_date(utc: float) -> str:
    """Write a date as `25 November 2026, 04:00 UTC`."""
    when = datetime.fromtimestamp(utc, UTC)
    return f"{when.day} {when:%B %Y, %H:%M} UTC"


def short_date(utc: float) -> str:
    """Write a date as `2026-11-25 04:00`, in UTC."""
    return f"{datetime.fromtimestamp(utc, UTC):%Y-%m-%d %H:%M}"


def time_of_day(utc: float) -> str:
    """Write a time of day as `04:05:12`, in UTC."""
    return f"{datetime.fromtimestamp(utc, UTC):%H:%M:%S}"


def words_of_id(word: str) -> str:
    """Replace the underscores of an id by spaces."""
    return str(word).replace("_", " ")


def joined(words: Iterable[str]) -> str:
    """Join words as `a, b and c`."""
    *most, last = list(words) or [""]
    return f"{', '.join(most)} and {last}" if most else last


def duration_text(seconds: float) -> str:
    """Write a duration as `42 s`, `3 min 05 s` or `1 h 08 min`."""
    if seconds < 60:
        return f"{seconds:.0f} s"
    if seconds < 3600:
        return f"{int(seconds // 60)} min {int(seconds % 60):02d} s"
    return format_duration(seconds)
