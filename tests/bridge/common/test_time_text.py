"""Tests of clocks, dates, durations and ages as text."""

from __future__ import annotations

import pytest

from bridge.common.time_text import (
    age_text,
    duration_text,
    format_clock_time,
    format_duration,
    format_sim_time,
    long_date,
    parse_sim_time,
    short_date,
    short_duration,
    stopwatch,
    time_ago,
    time_of_day,
)
from rules.arithmetic.domain import DomainError


@pytest.mark.parametrize(
    ("sim_s", "expected"), [(0.0, "0:00:00"), (59.99, "0:00:59"), (3661.0, "1:01:01"), (-3.0, "0:00:00")]
)
def test_simulated_seconds_are_printed_as_a_time(sim_s: float, expected: str) -> None:
    """Simulated seconds read as hours, minutes and seconds."""
    assert format_sim_time(sim_s) == expected


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("1:02:03", 3723), ("90", 90), ("", None), ("1:2:3:4", None), ("-5", None), ("inf", None)],
)
def test_times_are_parsed(text: str, seconds: float | None) -> None:
    """Times are hours, minutes and seconds, or seconds."""
    assert parse_sim_time(text) == seconds


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.4, "0 s"), (59.4, "59 s"), (60, "1 min 00 s"), (185, "3 min 05 s"), (4082, "1 h 8 min")],
)
def test_durations(seconds: float, words: str) -> None:
    """Durations are written to the second, from an hour on to the minute."""
    assert duration_text(seconds) == words


def test_durations_of_a_journey_log() -> None:
    """A duration is rounded to the nearest minute, halves up; a negative one is refused."""
    assert [format_duration(span) for span in (2940, 4560, 3600, 20, 29.9, 30, 3599.9)] == [
        "49 min",
        "1 h 16 min",
        "1 h 0 min",
        "0 min",
        "0 min",
        "1 min",
        "1 h 0 min",
    ]
    with pytest.raises(DomainError, match="time in s of -1"):
        format_duration(-1)


def test_readings_of_a_clock() -> None:
    """Seconds are dropped, midnight is 00:00, and a reading outside the day is refused."""
    assert [format_clock_time(at_s) for at_s in (0, 29579.9, 86399, 86400)] == [
        "00:00",
        "08:12",
        "23:59",
        "00:00",
    ]
    with pytest.raises(DomainError, match="seconds of the day of -1"):
        format_clock_time(-1)


def test_dates() -> None:
    """Dates and times of day are in UTC, whatever the time zone of the machine."""
    utc = 1_795_579_512.0
    assert (long_date(utc), short_date(utc), time_of_day(utc)) == (
        "25 November 2026, 04:05 UTC",
        "2026-11-25 04:05",
        "04:05:12",
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
