"""Words for sentences: capitals, lists, plurals and counts.

Times are in `bridge.common.time_text`, values with their units in `rules.signals.number_format`.

Takes: words and numbers.  Gives: text.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

_SMALL = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen",
    "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_LAST_WRITTEN_COUNT = 12


def capitalised(text: str) -> str:
    """Make the first letter a capital and leave the rest unchanged."""
    return text[:1].upper() + text[1:]


def uncapitalised(text: str) -> str:
    """Make the first letter small, unless the first word is an abbreviation."""
    return text if text[1:2].isupper() or text[1:2].isdigit() else text[:1].lower() + text[1:]


_READ_AS = {"ta": "TA", "ta_ra": "TA/RA", "nav": "NAV", "transit": "in transit"}
"""Words that are read otherwise: modes that are abbreviations (traffic advisories, resolution advisories, navigation)."""


def words_of_id(word: str) -> str:
    """Replace the underscores of an id by spaces; some words are read otherwise."""
    return _READ_AS.get(str(word)) or str(word).replace("_", " ")


def join_and(words: Iterable[str]) -> str:
    """Join words as `a, b and c`."""
    return _join(words, "and")


def join_or(words: Iterable[str]) -> str:
    """Join words as `a, b or c`."""
    return _join(words, "or")


def _join(words: Iterable[str], link: str) -> str:
    *most, last = list(words) or [""]
    return f"{', '.join(most)} {link} {last}" if most else last


def number_in_words(number: int) -> str:
    """Write a number as words, such as "twelve" or "twenty-one"; from 100 on in digits.

    Args:
        number: 0 or more.
    """
    if number >= 100:
        return str(number)
    if number < len(_SMALL):
        return _SMALL[number]
    tens, rest = divmod(number, 10)
    return f"{_TENS[tens]}-{_SMALL[rest]}" if rest else _TENS[tens]


def number_word(count: int) -> str:
    """Write a count as a document does: `no`, a word up to twelve, then digits."""
    return (number_in_words(count) if count <= _LAST_WRITTEN_COUNT else str(count)) if count else "no"


def plural(noun: str, count: int) -> str:
    """Write a noun in the plural for any count but one: `cautions`, `advisories`, `watches`."""
    if count == 1:
        return noun
    if noun.endswith(("s", "x", "z", "ch", "sh")):
        return f"{noun}es"
    return f"{noun[:-1]}ies" if noun.endswith("y") and noun[-2:-1] not in "aeiou" else f"{noun}s"


def count_in_words(count: int, noun: str, nouns: str = "") -> str:
    """Write a count with its noun: `one finding`, `three findings`; `nouns` is a plural that is not regular."""
    return f"{number_word(count)} {nouns if nouns and count != 1 else plural(noun, count)}"


def count_in_digits(count: int, noun: str) -> str:
    """Write a count with its noun in digits: `1 finding`, `3 findings`."""
    return f"{count} {plural(noun, count)}"


def printable(text: str, keep: str = "") -> str:
    """Replace each character that a screen, a terminal or a page must not get, by U+FFFD.

    These are control, format (such as bidirectional), private and unassigned characters, single surrogates, and separators
    of lines and paragraphs.  Every text from outside passes here before it is shown: a terminal obeys some of them.

    Args:
        text: any text.
        keep: control characters that stay, such as a line feed.
    """
    if text.isprintable():
        return text
    return "".join(c if is_printable(c) or c in keep else "\N{REPLACEMENT CHARACTER}" for c in text)


def is_printable(character: str) -> bool:
    """Tell whether a character may be shown; spaces of any width may."""
    return character.isprintable() or unicodedata.category(character) == "Zs"


def printable_line(text: str) -> str:
    """Replace unprintable characters by spaces, and several spaces by one; '' where nothing is left."""
    return " ".join(printable(text).replace("\N{REPLACEMENT CHARACTER}", " ").split())
