"""Suggestions for mistyped words: "did you mean ...?".

Takes: a word and the valid words.  Gives: the nearest valid word, '' where none is near.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

MIN_SIMILARITY = 0.6
"""Minimum similarity of two words (difflib's ratio) for a hint; found by trial, no source."""


def nearest_word(word: str, known: Iterable[str]) -> str:
    """Find the known word that is most similar to this one.

    Args:
        word: the word as written.
        known: the valid words, in any order.

    Returns:
        The nearest word, '' where none is near or the word itself is known.
    """
    folded = {name.casefold(): name for name in sorted(known, reverse=True)}
    found = get_close_matches(word.casefold(), folded, n=1, cutoff=MIN_SIMILARITY)
    return folded[found[0]] if found and folded[found[0]] != word else ""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Format the hint, '' where no word is near."""
    found = nearest_word(word, known)
    return f"did you mean {found}?" if found else ""
