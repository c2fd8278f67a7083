"""Tests of bridge.page.text_filters: times and lengths of time as they are read, and numbers that stay in one piece."""

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
    ("seconds", "said"),
    [(-1.0, "0 s"), (8.9, "8 s"), (60.0, "1 min"), (3599.0, "59 min"), (4800.0, "1 h 20 min")],
)
def test_a_length_of_time_is_as_short_as_it_may_be(seconds: float, said: str) -> None:
    """Seconds, then minutes, then hours with minutes; never negative."""
    assert short_duration(seconds) == said


def test_how_long_ago() -> None:
    """Under a second it is just now."""
    assert [time_ago(seconds) for seconds in (0.0, 0.99, 1.0, 90.0)] == [
        "just now",
        "just now",
        "1 s ago",
        "1 min ago",
    ]


def test_an_age_has_tenths_while_it_is_young() -> None:
    """A stale signal's age is told as a length of time."""
    assert [age_text(seconds) for seconds in (0.04, 2.5, 61.0)] == ["0.0 s old", "2.5 s old", "1 min old"]


@pytest.mark.parametrize(
    ("seconds", "said"),
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
def test_a_stopwatch_counts_tenths(seconds: float, said: str) -> None:
    """Minutes, seconds and tenths; carried over where rounding fills a minute; a minus before the beginning."""
    assert stopwatch(seconds) == said


def test_a_time_of_day_is_utc() -> None:
    """Whatever the machine's zone."""
    assert utc_time(0.0) == "00:00:00"


@pytest.mark.parametrize(
    ("text", "said"),
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
def test_a_number_is_not_broken_at_the_end_of_a_line(text: str, said: str) -> None:
    """Between groups of digits and before a unit no line ends; elsewhere it may."""
    assert finalise_value(text) == said.replace("_", "\N{NO-BREAK SPACE}")


def test_only_plain_text_is_touched() -> None:
    """What is HTML already, and what is no text, stays as it is."""
    made = Markup("<b>1 000 kg</b>")
    assert finalise_value(made) is made
    assert finalise_value(5) == 5


def test_what_stands_in_a_field_keeps_its_spaces() -> None:
    """It is escaped like all else, and comes back as it would be typed."""
    assert verbatim('8 200 kg "<b>') == "8 200 kg &#34;&lt;b&gt;"
    assert finalise_value(verbatim("8 200 kg")) == "8 200 kg"
