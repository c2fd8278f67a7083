"""Converts a written sentence to spoken text: numbers digit by digit, units and abbreviations in words.

Numbers: ICAO Annex 10 Volume II, 5.2.1.4.1.1 (each digit), 5.2.1.4.1.2 (whole hundreds and thousands of altitude, cloud
height and visibility), 5.2.1.4.1.4 (the decimal point).  The form of a number depends on its clause: a heading has three digits,
a squawk four, an altimeter setting in inches no decimal.

Takes: text.  Gives: text without digits, for an English speech engine.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.outputs.voice.vocabulary import (
    ABBREVIATIONS,
    HEIGHT_UNITS,
    LETTER_NAMES,
    PLAIN_DIGITS,
    RADIO_DIGITS,
    RUNWAY_SIDES,
    SPELLING_ALPHABET,
    UNIT_NAMES,
)
from rules.words import number_in_words

_UNIT = "|".join(re.escape(unit) for unit in sorted(UNIT_NAMES, key=len, reverse=True))
_AMOUNT = r"-?(?:[0-9]{1,3}(?:[ ][0-9]{3})+(?![0-9])|[0-9]+)(?:\.[0-9]+)?"
_ANY = re.compile(
    rf"""
      \bFL\ ?(?P<level>[0-9]{{2,3}})\b
    | \b(?P<runway>[0-9]{{2}})(?P<side>[LCR])\b
    | (?<![\w.:])(?P<time>[0-9]{{1,2}}:[0-9]{{2}}(?::[0-9]{{2}})?)(?![\w:])
    | \b(?P<place>[Tt]axiway|[Ss]tand|[Gg]ate|[Hh]olding\ point|[Ii]nformation)\ (?P<mark>[A-Z][0-9]{{0,2}})\b
    | (?<![\w.])(?P<low>{_AMOUNT})\ to\ (?P<high>{_AMOUNT})(?:[ -]?(?P<both>(?:{_UNIT})(?:/(?:{_UNIT}))?)(?![\w/]))?
    | (?<![\w.])(?P<number>{_AMOUNT})(?:[ -]?(?P<unit>(?:{_UNIT})(?:/(?:{_UNIT}))?)(?![\w/]))?
    | \b(?P<letters>[A-Z]{{1,5}})(?P<digits>[0-9]{{1,3}})\b
    | \b(?P<short>[A-Z]{{2,6}})\b
    | (?P<rest>[0-9]+)
    """,
    re.VERBOSE | re.ASCII,
)
_CLAUSE = re.compile(r"((?:;|\.)\s+|;|\.$)")
_HEADING = re.compile(r"\b(?:heading|course|track|direction|bearing|radial)\b", re.IGNORECASE)
_SETTING = re.compile(r"\b(?:altimeter|QNH|QFE|pressure setting)\b", re.IGNORECASE)
_SQUAWK = re.compile(r"\b(?:squawk|transponder code)\b", re.IGNORECASE)
_HEIGHT = re.compile(r"[0-9] ?ft\b")
_CODE_POSITION = re.compile(r"(?:squawk|code|needs|is|not)\s$", re.IGNORECASE)
_COUNTS = re.compile(r"\s(?:(?:still )?open|more|times|items?|tries|lines?)\b")
_PUNCTUATION = (
    (re.compile(r"\s*\(\s*"), ", "),
    (re.compile(r"\s*\)(?=\s*[,;:.!?])"), ""),
    (re.compile(r"\s*\)\s*"), ", "),
    (re.compile("±"), " plus or minus "),
    (re.compile("%"), " percent "),
    (re.compile(r"[/_→{}\[\]\"“”|*<>=]+"), " "),
    (re.compile(r"\s+([,;:.!?])"), r"\1"),
    (re.compile(r"[,;:]+(?=[,;:.])"), ""),
    (re.compile(r"[,;:\s]+$"), ""),
    (re.compile(r"\s{2,}"), " "),
)


@dataclass(frozen=True, slots=True)
class _Clause:
    """A clause with the subjects that change the form of its numbers."""

    text: str
    heading: bool
    setting: bool
    squawk: bool
    height: bool


class _NumberSpeller:
    """Spells the numbers of one sentence, with plain or radio digits."""

    def __init__(self, words: Mapping[str, str]) -> None:
        self._words = words
        self._clause = _Clause("", heading=False, setting=False, squawk=False, height=False)
        self._rules: dict[str, Callable[[re.Match[str]], str]] = {
            "level": lambda found: f"flight level {self._spell_digits(found['level'])}",
            "runway": lambda found: f"{self._spell_digits(found['runway'])} {RUNWAY_SIDES[found['side']]}",
            "time": lambda found: self._spell_digits(found["time"].replace(":", "")),
            "place": lambda found: f"{found['place']} {self._spell_place(found['mark'])}",
            "low": self._spell_range,
            "number": lambda found: self._spell_amount(found, found["number"], found["unit"] or ""),
            "letters": self._spell_designator,
            "short": lambda found: ABBREVIATIONS.get(found["short"]) or _spell_letters(found["short"]),
            "rest": lambda found: f" {self._spell_digits(found['rest'])} ",
        }

    def clause(self, text: str) -> str:
        """Convert one clause.

        Args:
            text: the clause; its subject decides the form of its numbers.
        """
        self._clause = _Clause(
            text,
            heading=bool(_HEADING.search(text)),
            setting=bool(_SETTING.search(text)),
            squawk=bool(_SQUAWK.search(text)),
            height=bool(_HEIGHT.search(text)),
        )
        return _ANY.sub(self._spell_match, text)

    def _spell_match(self, found: re.Match[str]) -> str:
        return next(spell(found) for name, spell in self._rules.items() if found[name] is not None)

    def _spell_place(self, mark: str) -> str:
        """Spell the name of a place at an airport, such as "A3"."""
        digits = self._spell_digits(mark[1:])
        return f"{SPELLING_ALPHABET[mark[0]]} {digits}" if digits else SPELLING_ALPHABET[mark[0]]

    def _spell_designator(self, found: re.Match[str]) -> str:
        """Spell V1 or N2; a comma separates a number that follows."""
        pause = "," if re.match(r"\s[0-9]", self._clause.text[found.end() :]) else ""
        return f"{_spell_letters(found['letters'])} {self._spell_digits(found['digits'])}{pause}"

    def _spell_range(self, found: re.Match[str]) -> str:
        """Spell a range of two numbers with the unit after the second."""
        unit = found["both"] or ""
        low = self._spell_number(found["low"], unit, self._is_heading(found, unit, bare=True))
        high = self._spell_number(found["high"], unit, self._is_heading(found, unit, bare=True))
        return f"{low} to {high}{self._spell_unit(found['high'], unit)}"

    def _spell_amount(self, found: re.Match[str], number: str, unit: str) -> str:
        """Spell a number with its unit, or a count as a word."""
        before, behind = self._clause.text[: found.start()], self._clause.text[found.end() :]
        if not unit and number.isdigit() and len(number) < 3 and _COUNTS.match(behind):
            return number_in_words(int(number))
        if self._clause.squawk and not unit and number.isdigit() and _CODE_POSITION.search(before):
            return self._spell_digits(number.zfill(4))
        if before.endswith("Mach ") and number.startswith("0."):
            return self._spell_number(number.removeprefix("0"), unit, heading=False)
        bare = bool(_HEADING.search(before.rsplit(maxsplit=1)[-1])) if before.strip() else False
        return self._spell_number(number, unit, self._is_heading(found, unit, bare=bare)) + self._spell_unit(
            number, unit
        )

    def _is_heading(self, found: re.Match[str], unit: str, *, bare: bool) -> bool:
        """True if a number is a direction; the tolerance of a direction is not."""
        within = self._clause.text[: found.start()].endswith("within ")
        return self._clause.heading and not within and (unit == "deg" or (bare and not unit))

    def _spell_number(self, number: str, unit: str, heading: bool) -> str:  # noqa: FBT001 - named in the calls
        """Spell a number without its unit."""
        sign = "minus " if number.startswith("-") else ""
        whole, _, part = number.lstrip("-").replace(" ", "").partition(".")
        if unit == "inHg" and self._clause.setting and len(whole) == 2:
            return self._spell_digits(whole + part.ljust(2, "0"))
        if heading:
            whole = whole.zfill(3)
        if not part and self._is_round(whole, unit):
            return sign + self._spell_hundreds(int(whole))
        words = [
            self._spell_digits(whole),
            *([self._words["decimal"], self._spell_digits(part)] if part else []),
        ]
        return sign + " ".join(word for word in words if word)

    def _is_round(self, whole: str, unit: str) -> bool:
        """True if a number is spoken in hundreds and thousands."""
        height = unit in HEIGHT_UNITS or (not unit and self._clause.height)
        return height and len(whole) > 2 and whole.endswith("00") and not whole.startswith("0")

    def _spell_hundreds(self, number: int) -> str:
        thousands, hundreds = divmod(number // 100, 10)
        words = [self._spell_digits(str(thousands)), self._words["thousand"]] if thousands else []
        return " ".join(
            [*words, *([self._spell_digits(str(hundreds)), self._words["hundred"]] if hundreds else [])]
        )

    def _spell_unit(self, number: str, unit: str) -> str:
        """The name of the unit after a space, '' if it is not spoken."""
        if not unit or (unit == "inHg" and self._clause.setting):
            return ""
        name, _, per = unit.partition("/")
        singular, plural = UNIT_NAMES[name]
        words = f" {singular if number == '1' else plural}"
        return f"{words} per {UNIT_NAMES[per][0]}" if per else words

    def _spell_digits(self, digits: str) -> str:
        return " ".join(self._words[digit] for digit in digits)


def speech_text(sentence: str, *, radio_spelling: bool = False) -> str:
    """Convert a written sentence to spoken text.

    Args:
        sentence: a text of a notice, such as "hydraulic 1 pressure 1 240 psi, needs 2 800 to 3 200."
        radio_spelling: spell digits as on the radio ("tree", "fower", "niner"), for an engine.

    Returns:
        Text without digits; '' for an empty text.
    """
    speller = _NumberSpeller(RADIO_DIGITS if radio_spelling else PLAIN_DIGITS)
    parts = _CLAUSE.split(sentence)
    text = "".join(part if number % 2 else speller.clause(part) for number, part in enumerate(parts))
    for pattern, replacement in _PUNCTUATION:
        text = pattern.sub(replacement, text)
    return text.strip()


def _spell_letters(letters: str) -> str:
    """Spell letters one by one."""
    return " ".join(LETTER_NAMES[letter] for letter in letters)
