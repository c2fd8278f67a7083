"""Did you mean: the known word that a mistyped one is nearest to.

Takes: a word and the words that would do.  Gives: the nearest, '' where nothing is near.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

MIN_SIMILARITY = 0.6
"""How alike two words must be (difflib's ratio) to be worth a hint; by trial, no source."""


def nearest_word(word: str, known: Iterable[str]) -> str:
    """Find the known word that looks most like this one.

    Args:
        word: what was written.
        known: what could have been meant; their order does not matter.

    Returns:
        The nearest, '' where none is near or where the word itself is known.
    """
    folded = {name.casefold(): name for name in sorted(known, reverse=True)}
    found = get_close_matches(word.casefold(), folded, n=1, cutoff=MIN_SIMILARITY)
    return folded[found[0]] if found and folded[found[0]] != word else ""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """The hint as printed, '' where nothing is near."""
    found = nearest_word(word, known)
    return f"did you mean {found}?" if found else ""


def join_or(words: Iterable[str]) -> str:
    """`a, b or c`, for what was expected."""
    *most, last = list(words) or [""]
    return f"{', '.join(most)} or {last}" if most else last
