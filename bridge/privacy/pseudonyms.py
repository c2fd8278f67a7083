"""A pseudonym in texts, and another word in its place.

Takes: a pseudonym, and those that must not be mistaken for it.  Gives: `Blot`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from unicodedata import normalize

import msgspec

from bridge.session.request_handlers import MAX_NAME_LENGTH
from rules.faults import Fault, InputFaults, Place

ERASED = "erased"
_COMBINING_MARKS = "\u0300-\u036f"
"""Accents that stand behind their letter and belong to the word."""


def parse_pseudonym(text: str) -> str:
    """A pseudonym as the store has it.

    Raises:
        InputFaults: it is empty, or longer than any.
    """
    clean = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if not clean or len(clean) > MAX_NAME_LENGTH:
        expected = f"1 to {MAX_NAME_LENGTH} characters"
        raise InputFaults([Fault(Place("PSEUDONYM"), f"{text!r} is no pseudonym", expected)])
    return clean


class Redactor:
    """Overwrites pseudonyms, as whole words and however they are written."""

    def __init__(self, *pseudonyms: str, excluded: Iterable[str] = ()) -> None:
        """Learn them.

        Args:
            pseudonyms: none of them empty.
            excluded: other people's; `Grey Heron` is not overwritten where `Heron` is.
        """
        self._names = {_normalised(name) for name in pseudonyms}
        self._pattern = _name_pattern(pseudonyms)
        longer = [name for name in excluded if self.occurs_in(name) and not self.matches(name)]
        self._pattern = _name_pattern([*pseudonyms, *longer])
        loose = {
            _json_escaped(part) for name in pseudonyms for way in _spellings(name) for part in way.split()[:1]
        }
        self._prefilter = re.compile("|".join(map(re.escape, sorted(loose))), re.IGNORECASE)

    def redact(self, text: str, replacement: str = ERASED, *, truncate: bool = False) -> str:
        """A text with another word in their place.

        Args:
            text: any.
            replacement: the word.
            truncate: cut the word where it is longer than what stood there.
        """

        def change(found: re.Match[str]) -> str:
            if not self.matches(found[0]):
                return found[0]
            return replacement[: len(found[0])] if truncate else replacement

        return self._pattern.sub(change, text)

    def occurs_in(self, text: str) -> bool:
        """Whether one stands in a text."""
        return any(self.matches(found[0]) for found in self._pattern.finditer(text))

    def matches(self, text: str) -> bool:
        """Whether a text is one and nothing else."""
        return _normalised(text) in self._names

    def may_occur_in(self, message: bytes) -> bool:
        """Whether one may stand in a JSON message; True too where it is part of another word."""
        return self._prefilter.search(message.decode(errors="replace")) is not None


def _name_pattern(names: Sequence[str]) -> re.Pattern[str]:
    """Finds any of some names, the longest that stands there, as whole words."""
    written = sorted({way for name in names for way in _spellings(name)}, key=len, reverse=True)
    words = "|".join(r"\s+".join(map(re.escape, way.split())) for way in written)
    return re.compile(rf"(?<!\w)(?:{words})(?![\w{_COMBINING_MARKS}])", re.IGNORECASE)


def _normalised(name: str) -> str:
    return " ".join(normalize("NFC", normalize("NFC", name).casefold()).split())


def _spellings(name: str) -> set[str]:
    """The ways in which a name may be written, but for large and small letters."""
    cases = {name, name.upper(), name.lower(), name.casefold(), _normalised(name)}
    return {normalize(form, way) for way in cases for form in ("NFC", "NFD")} | {name}


def _json_escaped(text: str) -> str:
    return msgspec.json.encode(text.encode(errors="replace").decode()).decode()[1:-1]
