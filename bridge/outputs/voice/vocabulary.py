"""Tables of spoken digits, letters, units and abbreviations.

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
"""Digits as plain English words, which an engine pronounces correctly."""

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
"""Digits as on the radio, spelled so that an English engine pronounces them approximately."""

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
"""The names of single letters.  An engine reads a single "a" as the article, and "v" as "versus"."""

RUNWAY_SIDES = MappingProxyType({"L": "left", "C": "centre", "R": "right"})
"""The suffix of a runway: ICAO Annex 14 Volume I, 5.2.2.5, from memory."""

ABBREVIATIONS = MappingProxyType(
    {
        "ATIS": "ay-tiss",
        "FADEC": "fay-deck",
        "LNAV": "el-nav",
        "METAR": "mee-tar",
        "NAV": "nav",
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
"""Abbreviations that are spoken as a word; all others are spelled."""

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
"""The singular and the plural of each unit."""

HEIGHT_UNITS = frozenset({"ft", "m", "ft/min"})
"""Units of altitude, cloud height and visibility, spoken in hundreds and thousands (Annex 10 Volume II, 5.2.1.4.1.2).

The same for vertical speeds is common practice, no source.
"""
