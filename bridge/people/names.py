"""A pseudonym in texts, and another word in its place.

Takes: a pseudonym, and those that must not be mistaken for it.  Gives: `Blot`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from unicodedata import normalize

import msgspec

from bridge.requests import LONGEST_NAME
from rules.faults import Fault, InputFaults, Place

ERASED = "erased"
_MARKS = "\u0300-\u036f"
"""Accents that stand behind their letter and belong to the word."""


def pseudonym_from(said: str) -> str:
    """A pseudonym as the store has it.

    Raises:
        InputFaults: it is empty, or longer than any.
    """
    clean = " ".join("".join(c if c.isprintable() else " " for c in said).split())
    if not clean or len(clean) > LONGEST_NAME:
        expected = f"1 to {LONGEST_NAME} characters"
        raise InputFaults([Fault(Place("PSEUDONYM"), f"{said!r} is no pseudonym", expected)])
    return clean


class Blot:
    """Overwrites pseudonyms, as whole words and however they are written."""

    def __init__(self, *pseudonyms: str, spared: Iterable[str] = ()) -> None:
        """Learn them.

        Args:
            pseudonyms: none of them empty.
            spared: other people's; `Grey Heron` is not overwritten where `Heron` is.
        """
        self._names = {_folded(name) for name in pseudonyms}
        self._pattern = _words(pseudonyms)
        longer = [name for name in spared if self.stands_in(name) and not self.is_name(name)]
        self._pattern = _words([*pseudonyms, *longer])
        loose = {_in_json(part) for name in pseudonyms for way in _ways(name) for part in way.split()[:1]}
        self._loose = re.compile("|".join(map(re.escape, sorted(loose))), re.IGNORECASE)

    def text(self, text: str, instead: str = ERASED, *, short: bool = False) -> str:
        """A text with another word in their place.

        Args:
            text: any.
            instead: the word.
            short: cut the word where it is longer than what stood there.
        """

        def change(found: re.Match[str]) -> str:
            if not self.is_name(found[0]):
                return found[0]
            return instead[: len(found[0])] if short else instead

        return self._pattern.sub(change, text)

    def stands_in(self, text: str) -> bool:
        """Whether one stands in a text."""
        return any(self.is_name(found[0]) for found in self._pattern.finditer(text))

    def is_name(self, text: str) -> bool:
        """Whether a text is one and nothing else."""
        return _folded(text) in self._names

    def may_stand_in(self, message: bytes) -> bool:
        """Whether one may stand in a JSON message; True too where it is part of another word."""
        return self._loose.search(message.decode(errors="replace")) is not None


def _words(names: Sequence[str]) -> re.Pattern[str]:
    """Finds any of some names, the longest that stands there, as whole words."""
    written = sorted({way for name in names for way in _ways(name)}, key=len, reverse=True)
    words = "|".join(r"\s+".join(map(re.escape, way.split())) for way in written)
    return re.compile(rf"(?<!\w)(?:{words})(?![\w{_MARKS}])", re.IGNORECASE)


def _folded(name: str) -> str:
    return " ".join(normalize("NFC", normalize("NFC", name).casefold()).split())


def _ways(name: str) -> set[str]:
    """The ways in which a name may be written, but for large and small letters."""
    cases = {name, name.upper(), name.lower(), name.casefold(), _folded(name)}
    return {normalize(form, way) for way in cases for form in ("NFC", "NFD")} | {name}


def _in_json(text: str) -> str:
    return msgspec.json.encode(text.encode(errors="replace").decode()).decode()[1:-1]
