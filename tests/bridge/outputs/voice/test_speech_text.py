"""Tests of bridge.outputs.voice.speech_text: sentences as spoken on the radio.

The published examples are the numbers of the tables in ICAO Annex 10 Volume II, 5.2.1.4, read in a public copy of that
section, not in ICAO's own print; examples marked as such are from memory.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.outputs.voice.speech_text import speech_text
from bridge.outputs.voice.vocabulary import UNIT_NAMES

DIGIT_BY_DIGIT = "ICAO Annex 10 Volume II, 5.2.1.4.1.1"
HUNDREDS = "ICAO Annex 10 Volume II, 5.2.1.4.1.2"
AIM = "FAA AIM 4-2-8 to 4-2-11"
MEMORY = "from memory"

PUBLISHED = [
    ("FL 180", "flight level one eight zero", DIGIT_BY_DIGIT),
    ("FL 200", "flight level two zero zero", DIGIT_BY_DIGIT),
    ("heading 100 deg", "heading one zero zero degrees", DIGIT_BY_DIGIT),
    ("heading 080 deg", "heading zero eight zero degrees", DIGIT_BY_DIGIT),
    ("wind direction 200 deg 70 kt", "wind direction two zero zero degrees seven zero knots", DIGIT_BY_DIGIT),
    ("18 kt gusting 30 kt", "one eight knots gusting three zero knots", DIGIT_BY_DIGIT),
    ("squawk 2400", "squawk two four zero zero", DIGIT_BY_DIGIT),
    ("squawk 4203", "squawk four two zero three", DIGIT_BY_DIGIT),
    ("runway 27", "runway two seven", DIGIT_BY_DIGIT),
    ("runway 30", "runway three zero", DIGIT_BY_DIGIT),
    ("QNH 1010", "q n h one zero one zero", DIGIT_BY_DIGIT),
    ("QNH 1000", "q n h one zero zero zero", DIGIT_BY_DIGIT),
    ("altitude 800 ft", "altitude eight hundred feet", HUNDREDS),
    ("altitude 3 400 ft", "altitude three thousand four hundred feet", HUNDREDS),
    ("altitude 12 000 ft", "altitude one two thousand feet", HUNDREDS),
    ("cloud height 2 200 ft", "cloud height two thousand two hundred feet", HUNDREDS),
    ("cloud height 4 300 ft", "cloud height four thousand three hundred feet", HUNDREDS),
    ("visibility 1 000 m", "visibility one thousand metres", f"{HUNDREDS}; {MEMORY}"),
    ("visibility 700 m", "visibility seven hundred metres", f"{HUNDREDS}; {MEMORY}"),
    ("118.1 MHz", "one one eight decimal one megahertz", f"ICAO Annex 10 Volume II, 5.2.1.4.1.4; {MEMORY}"),
    ("10 000 ft", "one zero thousand feet", AIM),
    ("13 500 ft", "one three thousand five hundred feet", AIM),
    ("course 5 deg", "course zero zero five degrees", AIM),
    ("250 kt", "two five zero knots", AIM),
    ("Mach 0.64", "Mach decimal six four", f"{AIM}, which says point; Annex 10 says decimal"),
    ("altimeter 30.11 inHg", "altimeter three zero one one", f"FAA JO 7110.65, 2-4-17, {MEMORY}"),
    ("09:20", "zero nine two zero", f"ICAO Annex 10 Volume II, 5.2.1.4.1.3, {MEMORY}"),
]

OURS = [
    ("hydraulic 1 pressure 1 240 psi, needs 2 800 to 3 200.",
     "hydraulic one pressure one two four zero p s i, needs two eight zero zero to three two zero zero."),
    ("runway 14L", "runway one four left"),
    ("runway 14R, needs 32C", "runway one four right, needs three two centre"),
    ("heading 138 deg, needs 43 deg (sheet runway heading) within 10",
     "heading one three eight degrees, needs zero four three degrees, sheet runway heading, within one zero"),
    ("heading 95 deg, needs 80 to 90", "heading zero nine five degrees, needs zero eight zero to zero nine zero"),
    ("flap lever 5 deg", "flap lever five degrees"),
    ("height 12 350 ft, needs 1 000 to 3 000",
     "height one two three five zero feet, needs one thousand to three thousand"),
    ("vertical speed -1 500 ft/min", "vertical speed minus one thousand five hundred feet per minute"),
    ("outside air temperature -37 degC", "outside air temperature minus three seven degrees celsius"),
    ("fuel 7 400 kg, needs 8 200 kg (sheet block fuel) within 150.",
     "fuel seven four zero zero kilograms, needs eight two zero zero kilograms, sheet block fuel, within one five zero."),
    ("fuel flow 1 kg/h", "fuel flow one kilogram per hour"),
    ("beacon is on for 0.8 s, needs 2 s", "beacon is on for zero decimal eight seconds, needs two seconds"),
    ("1 s", "one second"),
    ("sheet V1 114 kt, VR 128 kt, V2 134 kt",
     "sheet vee one, one one four knots, vee r one two eight knots, vee two, one three four knots"),
    ("engine 1 N2 18.4 %, needs at least 25 %",
     "engine one n two, one eight decimal four percent, needs at least two five percent"),
    ("EGT of the APU", "e g t of the ay p u"),
    ("captain altimeter setting 29.9 inHg, needs 29.92 inHg",
     "captain altimeter setting two nine nine zero, needs two nine nine two"),
    ("altimeter setting 1 013 hPa", "altimeter setting one zero one three hectopascals"),
    ("suction 5.1 inHg", "suction five decimal one inches of mercury"),
    ("squawk 417, needs 4217", "squawk zero four one seven, needs four two one seven"),
    ("Lindmere 417", "Lindmere four one seven"),
    ("taxiway B, stand A3", "taxiway bravo, stand alfa three"),
    ("information K", "information kilo"),
    ("Before push back, 12 open", "Before push back, twelve open"),
    ("21 still open: beacon is off; doors are open.", "twenty-one still open: beacon is off; doors are open."),
    ("Engine 1 no-N1 start: engine 1 N1 0 %", "Engine one no-n one start: engine one n one, zero percent"),
    ("80 knots", "eight zero knots"),
    ("25 % N2", "two five percent n two"),
    ("TA/RA", "t ay r ay"),
    ("TOGA", "toga"),
    ("", ""),
    ("?!", "?!"),
]  # fmt: skip


@pytest.mark.parametrize(("written", "speech", "source"), PUBLISHED, ids=[row[0] for row in PUBLISHED])
def test_published_examples(written: str, speech: str, source: str) -> None:
    """Each published example has the words of its source."""
    assert speech_text(written) == speech, source


@pytest.mark.parametrize(("written", "speech"), OURS, ids=[row[0] for row in OURS])
def test_our_sentences(written: str, speech: str) -> None:
    """Sentences of our notices have units, letters and digits in words."""
    assert speech_text(written) == speech


def test_radio_spelling() -> None:
    """Digits have the radio's spelling; other words are unchanged."""
    speech = speech_text("one more: heading 39 deg, 1 800 ft, 0.5 %", radio_spelling=True)
    assert speech == (
        "one more: heading zeero tree niner degrees, wun tousand ait hundred feet, zeero day-see-mal fife percent"
    )
    assert speech_text("24 67", radio_spelling=True) == "too fower six seven"


@pytest.mark.parametrize("unit", UNIT_NAMES)
def test_every_unit_has_its_name(unit: str) -> None:
    """After a number each unit of the table is spoken by its name, in the singular or the plural."""
    singular, plural = UNIT_NAMES[unit]
    assert speech_text(f"1 {unit}") == f"one {singular}"
    assert speech_text(f"7 {unit}") == f"seven {plural}"


PIECES = st.sampled_from(
    ["needs", "heading", "squawk", "altimeter", "FL", "V1", "14L", "1 240", "psi", "ft", "-", ".", "; ", ": ", "(", ")", "%", "12:30", "/"]
)  # fmt: skip


@given(st.one_of(st.text(max_size=120), st.lists(PIECES, max_size=20).map(" ".join)))
def test_any_text_is_spoken_without_digits(text: str) -> None:
    """Any text can be converted, and the result has no digits and no double spaces."""
    speech = speech_text(text)
    assert not re.search("[0-9]", speech)
    assert "  " not in speech
    assert not re.search("[0-9]", speech_text(text, radio_spelling=True))


@given(st.integers(1, 450))
def test_heights_keep_their_value(hundreds: int) -> None:
    """The words of whole hundreds of feet have the value that was written."""
    values = {"zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9}  # fmt: skip
    words = speech_text(f"{hundreds * 100:,} ft".replace(",", " ")).split()
    assert words.pop() == "feet"
    total = digits = 0
    for word in words:
        if word in values:
            digits = 10 * digits + values[word]
        else:
            total += digits * {"hundred": 100, "thousand": 1000}[word]
            digits = 0
    assert (total, digits) == (hundreds * 100, 0)
