"""Finds and replaces a pseudonym in texts.

Takes: a pseudonym, and those of others that must not be mistaken for it.  Gives: `Redactor`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from unicodedata import normalize

import msgspec

from bridge.session.request_handlers import MAX_NAME_LENGTH
from rules.faults import Fault, InputFaults, Place
from rules.words import printable_line

ERASED = "erased"
_COMBINING_MARKS = "\u0300-\u036f"
"""Accents that follow their letter and belong to the word."""


def parse_pseudonym(text: str) -> str:
    """Return a pseudonym as the store has it.

    Raises:
        InputFaults: It is empty or too long.
    """
    cleaned = printable_line(text)
    if not cleaned or len(cleaned) > MAX_NAME_LENGTH:
        expected = f"1 to {MAX_NAME_LENGTH} characters"
        raise InputFaults([Fault(Place("PSEUDONYM"), f"{text!r} is not a pseudonym", expected)])
    return cleaned


class Redactor:
    """Overwrites pseudonyms, as whole words and in any spelling."""

    def __init__(self, *pseudonyms: str, excluded: Iterable[str] = ()) -> None:
        """Compile the patterns.

        Args:
            pseudonyms: The pseudonyms, none of them empty.
            excluded: Those of other persons; `Grey Heron` is not overwritten where `Heron` is.
        """
        self._names = {_normalised(name) for name in pseudonyms}
        self._pattern = _name_pattern(pseudonyms)
        longer = [name for name in excluded if self.occurs_in(name) and not self.matches(name)]
        self._pattern = _name_pattern([*pseudonyms, *longer])
        loose = {
            _json_escaped(part)
            for name in pseudonyms
            for spelling in _spellings(name)
            for part in spelling.split()[:1]
        }
        self._prefilter = re.compile("|".join(map(re.escape, sorted(loose))), re.IGNORECASE)

    def redact(self, text: str, replacement: str = ERASED, *, truncate: bool = False) -> str:
        """Replace the pseudonyms in a text.

        Args:
            text: Any text.
            replacement: The replacement.
            truncate: Cut the replacement to the length of the text that it replaces.
        """

        def change(found: re.Match[str]) -> str:
            if not self.matches(found[0]):
                return found[0]
            return replacement[: len(found[0])] if truncate else replacement

        return self._pattern.sub(change, text)

    def occurs_in(self, text: str) -> bool:
        """Return True if a pseudonym occurs in the text."""
        return any(self.matches(found[0]) for found in self._pattern.finditer(text))

    def matches(self, text: str) -> bool:
        """Return True if the text is a pseudonym and nothing else."""
        return _normalised(text) in self._names

    def may_occur_in(self, message: bytes) -> bool:
        """Return True if a pseudonym may occur in a JSON message, also as a part of another word."""
        return self._prefilter.search(message.decode(errors="replace")) is not None


def _name_pattern(names: Sequence[str]) -> re.Pattern[str]:
    """Compile a pattern that finds any of the names as whole words, the longest first."""
    written = sorted({spelling for name in names for spelling in _spellings(name)}, key=len, reverse=True)
    alternatives = "|".join(r"\s+".join(map(re.escape, spelling.split())) for spelling in written)
    return re.compile(rf"(?<!\w)(?:{alternatives})(?![\w{_COMBINING_MARKS}])", re.IGNORECASE)


def _normalised(name: str) -> str:
    return " ".join(normalize("NFC", normalize("NFC", name).casefold()).split())


def _spellings(name: str) -> set[str]:
    """Return the spellings of a name that differ in more than case."""
    cases = {name, name.upper(), name.lower(), name.casefold(), _normalised(name)}
    return {normalize(form, spelling) for spelling in cases for form in ("NFC", "NFD")} | {name}


def _json_escaped(text: str) -> str:
    return msgspec.json.encode(text.encode(errors="replace").decode()).decode()[1:-1]
