"""Tests of texts of counts, dates and durations."""

from __future__ import annotations

import pytest

from bridge.common.text_format import (
    capitalised,
    count_text,
    duration_text,
    joined,
    long_date,
    short_date,
    time_of_day,
)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.4, "0 s"), (59.4, "59 s"), (60, "1 min 00 s"), (185, "3 min 05 s"), (4082, "1 h 8 min")],
)
def test_durations(seconds: float, words: str) -> None:
    """Durations are written to the second, from an hour on to the minute."""
    assert duration_text(seconds) == words


def test_lists_and_counts() -> None:
    """Lists end with `and`; counts have their plurals."""
    assert (joined([]), joined(["a"]), joined(["a", "b"]), joined("abc")) == (
        "",
        "a",
        "a and b",
        "a, b and c",
    )
    assert (count_text(1, "finding"), count_text(2, "finding"), count_text(13, "entry", "entries")) == (
        "one finding",
        "two findings",
        "13 entries",
    )


def test_dates() -> None:
    """Dates and times of day are in UTC."""
    utc = 1_795_579_512.0
    assert (long_date(utc), short_date(utc), time_of_day(utc)) == (
        "25 November 2026, 04:05 UTC",
        "2026-11-25 04:05",
        "04:05:12",
    )


def test_a_sentence_begins_with_a_capital() -> None:
    """The first letter becomes a capital, and an empty text stays empty."""
    assert [capitalised("hold 2 door"), capitalised("")] == ["Hold 2 door", ""]
