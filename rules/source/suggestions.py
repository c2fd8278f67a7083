"""Suggestions for mistyped words: "did you mean ...?".

Takes: a word and the valid words.  Gives: the nearest valid word, '' where none is near; the fault of an unknown word.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from rules.faults import Fault, Place
from rules.words import join_or

MIN_SIMILARITY = 0.6
"""Minimum similarity of two words (difflib's ratio) for a hint; found by trial, no source."""

MAX_COMPARED = 2000
"""Known words up to which the nearest one is looked for: each comparison takes time, and our own packs have half of them."""

MAX_LISTED = 12
"""Maximum number of valid words that a fault lists."""


def nearest_word(word: str, known: Iterable[str]) -> str:
    """Find the known word that is most similar to this one.

    Args:
        word: the word as written.
        known: the valid words, in any order.

    Returns:
        The nearest word, '' where none is near or the word itself is known.
    """
    folded = {name.casefold(): name for name in sorted(known, reverse=True)}
    if len(folded) > MAX_COMPARED:
        return ""
    found = get_close_matches(word.casefold(), folded, n=1, cutoff=MIN_SIMILARITY)
    return folded[found[0]] if found and folded[found[0]] != word else ""


def hint_of(found: str) -> str:
    """Format the hint to a word that was found, '' for none."""
    return f"did you mean {found}?" if found else ""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Format the hint to the nearest word, '' where no word is near."""
    return hint_of(nearest_word(word, known))


def unknown_word(kind: str, word: str, known: Iterable[str], expected: str = "") -> tuple[str, str, str]:
    """Say that a word is none of the known ones, for a collector of faults that has its own places.

    Args:
        kind: what the word should name: "signal", "format".
        word: the word as written.
        known: the valid words.
        expected: what is expected; '' lists the valid words, where they are few and none is near.

    Returns:
        What is wrong, what is expected, and the hint.
    """
    names = list(known)
    hint = did_you_mean(word, names)
    listed = "" if hint or len(names) > MAX_LISTED else join_or(names)
    return f"unknown {kind} {word}", expected or listed, hint


def unknown_fault(place: Place, kind: str, word: str, known: Iterable[str], expected: str = "") -> Fault:
    """Make the fault of a word that is none of the known ones; arguments as for `unknown_word`."""
    return Fault(place, *unknown_word(kind, word, known, expected))
