"""How digits, letters, units and abbreviations are said.

Digits, "decimal", "hundred" and "thousand": ICAO Annex 10 Volume II, 5.2.1.4.3.1; letters as words: 5.2.1.3.  Units and
abbreviations: common practice, no source.

Takes: nothing.  Gives: tables.
"""

from __future__ import annotations

from types import MappingProxyType

PLAIN_DIGITS = MappingProxyType(
    {
        "0": "zero",
        "1": "one",
        "2": "two",
        "3": "three",
        "4": "four",
        "5": "five",
        "6": "six",
        "7": "seven",
        "8": "eight",
        "9": "nine",
        "decimal": "decimal",
        "hundred": "hundred",
        "thousand": "thousand",
    }
)
"""As a reader of English says them; an engine reads them right."""

RADIO_DIGITS = MappingProxyType(
    {
        "0": "zeero",
        "1": "wun",
        "2": "too",
        "3": "tree",
        "4": "fower",
        "5": "fife",
        "6": "six",
        "7": "seven",
        "8": "ait",
        "9": "niner",
        "decimal": "day-see-mal",
        "hundred": "hundred",
        "thousand": "tousand",
    }
)
"""As the radio has them, spelled so that an engine of English comes near."""

SPELLING_ALPHABET = MappingProxyType(
    {
        "A": "alfa",
        "B": "bravo",
        "C": "charlie",
        "D": "delta",
        "E": "echo",
        "F": "foxtrot",
        "G": "golf",
        "H": "hotel",
        "I": "india",
        "J": "juliett",
        "K": "kilo",
        "L": "lima",
        "M": "mike",
        "N": "november",
        "O": "oscar",
        "P": "papa",
        "Q": "quebec",
        "R": "romeo",
        "S": "sierra",
        "T": "tango",
        "U": "uniform",
        "V": "victor",
        "W": "whiskey",
        "X": "x-ray",
        "Y": "yankee",
        "Z": "zulu",
    }
)

LETTER_NAMES = MappingProxyType(
    {letter: letter.lower() for letter in SPELLING_ALPHABET} | {"A": "ay", "V": "vee"}
)
"""Letters one by one.  An engine takes a lone "a" for the article, and "v" for "versus"."""

RUNWAY_SIDES = MappingProxyType({"L": "left", "C": "centre", "R": "right"})
"""The suffix of a runway: ICAO Annex 14 Volume I, 5.2.2.5, from memory."""

ABBREVIATIONS = MappingProxyType(
    {
        "ATIS": "ay-tiss",
        "FADEC": "fay-deck",
        "LNAV": "el-nav",
        "METAR": "mee-tar",
        "NOTAM": "no-tam",
        "OK": "okay",
        "SID": "sid",
        "STAR": "star",
        "TOGA": "toga",
        "VNAV": "vee-nav",
        "VREF": "vee ref",
        "ZULU": "zulu",
    }
)
"""Abbreviations that are said as a word; all others letter by letter."""

UNIT_NAMES = MappingProxyType(
    {
        "%": ("percent", "percent"),
        "A": ("ampere", "amperes"),
        "GHz": ("gigahertz", "gigahertz"),
        "Hz": ("hertz", "hertz"),
        "MHz": ("megahertz", "megahertz"),
        "NM": ("nautical mile", "nautical miles"),
        "V": ("volt", "volts"),
        "bar": ("bar", "bar"),
        "deg": ("degree", "degrees"),
        "degC": ("degree celsius", "degrees celsius"),
        "degF": ("degree fahrenheit", "degrees fahrenheit"),
        "ft": ("foot", "feet"),
        "gal": ("gallon", "gallons"),
        "gn": ("g", "g"),
        "h": ("hour", "hours"),
        "hPa": ("hectopascal", "hectopascals"),
        "inHg": ("inch of mercury", "inches of mercury"),
        "kHz": ("kilohertz", "kilohertz"),
        "kN": ("kilonewton", "kilonewtons"),
        "kg": ("kilogram", "kilograms"),
        "km": ("kilometre", "kilometres"),
        "kt": ("knot", "knots"),
        "l": ("litre", "litres"),
        "lb": ("pound", "pounds"),
        "m": ("metre", "metres"),
        "min": ("minute", "minutes"),
        "psi": ("p s i", "p s i"),
        "rpm": ("r p m", "r p m"),
        "s": ("second", "seconds"),
        "t": ("tonne", "tonnes"),
    }
)
"""One, and several."""

HEIGHT_UNITS = frozenset({"ft", "m", "ft/min"})
"""Units of altitude, cloud height and visibility, which take hundreds and thousands (Annex 10 Volume II, 5.2.1.4.1.2).

That vertical speeds do too is common practice, no source.
"""

_SMALL = (
    *(
        "zero",
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
    ),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def number_in_words(number: int) -> str:
    """How many, as one counts things: "twelve", "twenty-one"; from 100 on in digits.

    Args:
        number: not negative.
    """
    if number >= 100:
        return str(number)
    if number < len(_SMALL):
        return _SMALL[number]
    tens, rest = divmod(number, 10)
    return f"{_TENS[tens]}-{_SMALL[rest]}" if rest else _TENS[tens]
