"""Tests of bridge.page.text_filters: times, durations, and numbers that stay on one line."""

from __future__ import annotations

import pytest
from markupsafe import Markup

from bridge.page.text_filters import finalise_value, verbatim


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("needs 2 800 to 3 200 psi", "needs 2_800 to 3_200_psi"),
        ("1 234 567 kg", "1_234_567_kg"),
        ("25 % N2", "25_% N2"),
        ("engine 1 EGT 760 degC", "engine 1 EGT 760_degC"),
        ("within 0.8 s", "within 0.8_s"),
        ("Lindmere 417, runway 14", "Lindmere 417, runway 14"),
        ("2 items of 3 more", "2 items of 3 more"),
        ("12 1234", "12 1234"),
    ],
)
def test_a_number_is_not_broken_at_the_end_of_a_line(text: str, expected: str) -> None:
    """No line breaks between groups of digits or before a unit; elsewhere it may."""
    assert finalise_value(text) == expected.replace("_", "\N{NO-BREAK SPACE}")


def test_only_plain_text_is_changed() -> None:
    """HTML and other types stay unchanged."""
    html = Markup("<b>1 000 kg</b>")
    assert finalise_value(html) is html
    assert finalise_value(5) == 5


def test_text_of_a_field_keeps_its_spaces() -> None:
    """The text of a field is escaped and keeps its plain spaces."""
    assert verbatim('8 200 kg "<b>') == "8 200 kg &#34;&lt;b&gt;"
    assert finalise_value(verbatim("8 200 kg")) == "8 200 kg"
