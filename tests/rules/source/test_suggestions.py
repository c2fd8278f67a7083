"""Suggestions for mistyped words."""

from __future__ import annotations

import pytest

from rules.source.suggestions import did_you_mean, nearest_word


@pytest.mark.parametrize(
    ("word", "found"),
    [
        ("labl", "label"),
        ("Label", "label"),
        ("lights.becon", "lights.beacon"),
        ("zzz", ""),
        ("label", ""),
        ("", ""),
    ],
)
def test_nearest(word: str, found: str) -> None:
    """The most similar word is found, and none where none is near."""
    assert nearest_word(word, ["label", "level", "lights.beacon"]) == found


def test_the_order_of_the_known_words_does_not_matter() -> None:
    """Two equally near words give the same answer in any order."""
    assert nearest_word("abx", ["abd", "abc"]) == nearest_word("abx", ["abc", "abd"])


def test_hint() -> None:
    """The hint, as printed."""
    assert did_you_mean("labl", ["label"]) == "did you mean label?"
    assert did_you_mean("zzz", ["label"]) == ""
