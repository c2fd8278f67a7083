"""Tests of capitals, lists, plurals and counts in sentences."""

from __future__ import annotations

import pytest

from rules.words import (
    capitalised,
    count_in_digits,
    count_in_words,
    join_and,
    join_or,
    number_in_words,
    number_word,
    plural,
    uncapitalised,
    words_of_id,
)


def test_first_letters() -> None:
    """The first letter changes alone; an empty text stays empty, and an abbreviation keeps its capitals."""
    assert [capitalised("hold 2 door"), capitalised("")] == ["Hold 2 door", ""]
    words = ("Aft pump", "APU bleed", "N1 limit", "")
    assert [uncapitalised(text) for text in words] == ["aft pump", "APU bleed", "N1 limit", ""]
    assert words_of_id("too_early") == "too early"


def test_lists() -> None:
    """A list ends with `and` or `or`."""
    assert [join_and(words) for words in ([], ["a"], ["a", "b"], "abc")] == ["", "a", "a and b", "a, b and c"]
    assert [join_or(words) for words in ([], ["a"], ["a", "b"], "abc")] == ["", "a", "a or b", "a, b or c"]


@pytest.mark.parametrize(
    ("number", "word"),
    [(0, "zero"), (7, "seven"), (12, "twelve"), (20, "twenty"), (34, "thirty-four"), (100, "100")],
)
def test_numbers(number: int, word: str) -> None:
    """Numbers are words below 100."""
    assert number_in_words(number) == word


def test_counts() -> None:
    """A document writes counts as words up to twelve, a screen in digits; both with the plural of the noun."""
    assert [number_word(count) for count in (0, 1, 12, 13)] == ["no", "one", "twelve", "13"]
    assert count_in_words(1, "finding") == "one finding"
    assert count_in_words(0, "notice was", "notices were") == "no notices were"
    assert count_in_words(1, "notice was", "notices were") == "one notice was"
    assert count_in_words(13, "entry") == "13 entries"
    assert [count_in_digits(count, "caution") for count in (1, 2)] == ["1 caution", "2 cautions"]


def test_plurals() -> None:
    """A `y` after a consonant becomes `ies`, an ending s, x, z, ch or sh gets `es`; only one is singular."""
    assert [plural(noun, 2) for noun in ("advisory", "day", "flow")] == ["advisories", "days", "flows"]
    assert [plural(noun, 2) for noun in ("watch", "pass", "box")] == ["watches", "passes", "boxes"]
    assert [plural("flow", count) for count in (0, 1)] == ["flows", "flow"]
