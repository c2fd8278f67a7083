"""A session in a paragraph."""

from __future__ import annotations

from dataclasses import replace

import pytest
from msgspec import structs

from bridge.debrief.drawing.flow_marks import number_ranges
from bridge.debrief.model import DebriefData
from bridge.debrief.wording import capitalised, count_text, duration_text, joined, pluralised, summary
from bridge.session.threat_error import ErrorClass


def test_the_summary(account: DebriefData) -> None:
    """It says who flew what and for how long, what was found, which gates were ready, and what to talk about first."""
    said = summary(account)
    assert said.startswith(
        "On 25 November 2026, 04:00 UTC Heron as captain and Plover as first officer flew Session 1 of Course 12 on Bay 1: 14 min"
    )
    assert (
        "There were ten findings (two at warning and eight at caution): eight procedural errors and two aircraft handling errors."
        in said
    )
    assert (
        "Five were put right in time; four were carried into the next phase; one was not put right." in said
    )
    assert "not ready: push back, before taxi, taxi, line-up and take-off." in said
    assert "To talk about first, number 2: first officer V2 148 kt, needs 138 kt" in said


def test_a_clean_session(account: DebriefData) -> None:
    """Without findings it says so, and nothing of lessons."""
    ready = tuple(replace(g, passage=structs.replace(g.passage, ready_s=1.0)) for g in account.gates)
    said = summary(replace(account, findings=(), gates=ready, crew={}))
    assert "The crew flew" in said
    assert "Nothing was found wrong" in said
    assert "All eight gates were ready when they were passed." in said
    assert "To talk about" not in said


def test_one_of_each(account: DebriefData) -> None:
    """One finding is spoken of as one."""
    said = summary(replace(account, findings=account.findings[:1]))
    assert "There was one finding (one at caution): one procedural error." in said
    assert "One was put right in time; none was carried into the next phase." in said


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.4, "0 s"), (59.4, "59 s"), (60, "1 min 00 s"), (185, "3 min 05 s"), (4082, "1 h 8 min")],
)
def test_spans(seconds: float, words: str) -> None:
    """Spans are said to the second, from an hour on to the minute."""
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


def test_classes_of_errors_have_their_plurals() -> None:
    """Two errors are errors; what cannot be verified has no plural; a sentence begins with a capital."""
    assert [pluralised(ErrorClass.PROCEDURAL, count) for count in (1, 2)] == [
        "procedural error",
        "procedural errors",
    ]
    assert pluralised(ErrorClass.NOT_VERIFIABLE, 3) == "not verifiable"
    assert [capitalised("hold 2 door"), capitalised("")] == ["Hold 2 door", ""]


@pytest.mark.parametrize(
    ("numbers", "said"),
    [([3], "3"), ([3, 4], "3, 4"), ([6, 3, 4, 5], "3 to 6"), ([1, 3, 4, 5, 9], "1, 3 to 5, 9")],
)
def test_ranges(numbers: list[int], said: str) -> None:
    """Findings of one moment are drawn with one label."""
    assert number_ranges(numbers) == said
