"""Tests of bridge.page.text_filters: times, durations, and numbers that stay on one line."""

from __future__ import annotations

import pytest
from markupsafe import Markup

from bridge.page.text_filters import (
    age_text,
    finalise_value,
    short_duration,
    stopwatch,
    time_ago,
    utc_time,
    verbatim,
)


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(-1.0, "0 s"), (8.9, "8 s"), (60.0, "1 min"), (3599.0, "59 min"), (4800.0, "1 h 20 min")],
)
def test_short_durations(seconds: float, expected: str) -> None:
    """A duration is in seconds, minutes, or hours with minutes, and never negative."""
    assert short_duration(seconds) == expected


def test_time_ago() -> None:
    """A time of less than one second is "just now"."""
    assert [time_ago(seconds) for seconds in (0.0, 0.99, 1.0, 90.0)] == [
        "just now",
        "just now",
        "1 s ago",
        "1 min ago",
    ]


def test_an_age_below_a_minute_has_tenths() -> None:
    """From one minute on an age is a short duration."""
    assert [age_text(seconds) for seconds in (0.04, 2.5, 61.0)] == ["0.0 s old", "2.5 s old", "1 min old"]


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [
        (0.0, "0:00.0"),
        (7.34, "0:07.3"),
        (59.97, "1:00.0"),
        (62.0, "1:02.0"),
        (-1.5, "-0:01.5"),
        (-0.01, "0:00.0"),
        (3600.0, "60:00.0"),
    ],
)
def test_a_stopwatch_counts_tenths(seconds: float, expected: str) -> None:
    """Minutes, seconds and tenths; rounding carries into the minutes; times before the start have a minus sign."""
    assert stopwatch(seconds) == expected


def test_a_time_of_day_is_utc() -> None:
    """The time does not depend on the time zone of the machine."""
    assert utc_time(0.0) == "00:00:00"


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
