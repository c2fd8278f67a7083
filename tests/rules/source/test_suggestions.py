"""Suggestions for mistyped words."""

from __future__ import annotations

import pytest

from rules.faults import Fault, Place
from rules.source.suggestions import MAX_LISTED, did_you_mean, nearest_word, unknown_fault, unknown_word


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


def test_the_fault_of_an_unknown_word() -> None:
    """A near word is the hint; where none is near, a few known words are listed, and many are not."""
    place = Place("--format")
    near = unknown_fault(place, "format", "jsn", ["json", "msgpack"])
    assert near == Fault(place, "unknown format jsn", "", "did you mean json?")
    assert unknown_word("format", "xml", ["json", "msgpack"]) == ("unknown format xml", "json or msgpack", "")
    assert unknown_word("item", "x", (f"item {n}" for n in range(MAX_LISTED + 1))) == (
        "unknown item x",
        "",
        "",
    )
    assert unknown_word("gate", "taix", ["taxi"], "a gate of the pack") == (
        "unknown gate taix",
        "a gate of the pack",
        "did you mean taxi?",
    )
