"""Resolution of plain YAML words to text, number, true, false or null (YAML 1.2.2, section 10.3.2).

Stricter than the schema in two points: a number with a leading zero (0206) is text, because in a
cockpit that is a code; a number that is not finite (.nan, .inf, 1e999) is refused.

Takes: the word as written.  Gives: its value, or `ValueError` with a plain sentence.
"""

from __future__ import annotations

import math
import re

_NULL = frozenset({"", "~", "null", "Null", "NULL"})
_TRUE = frozenset({"true", "True", "TRUE"})
_FALSE = frozenset({"false", "False", "FALSE"})
_NOT_FINITE = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")
_INTEGER = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_OTHER_BASE = re.compile(r"0o[0-7]+|0x[0-9a-fA-F]+")
_REAL = re.compile(r"[-+]?(?:\.[0-9]+|(?:0|[1-9][0-9]*)(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
MAX_NUMBER_LENGTH = 40

Scalar = str | int | float | bool | None


def resolve_scalar(word: str) -> Scalar:
    """Resolve a plain (unquoted) word.

    Raises:
        ValueError: a number that is not finite, or too long.
    """
    if word in _NULL:
        return None
    if word in _TRUE or word in _FALSE:
        return word in _TRUE
    if _NOT_FINITE.fullmatch(word):
        raise ValueError(f"{word} is not a finite number")
    if not (word[0] in "+-." or word[0].isdecimal()):
        return word
    return _number(word)


def _number(word: str) -> Scalar:
    """Parse a number; give the word itself where it is none."""
    whole, other = _INTEGER.fullmatch(word), _OTHER_BASE.fullmatch(word)
    if not (whole or other or _REAL.fullmatch(word)):
        return word
    if len(word) > MAX_NUMBER_LENGTH:
        raise ValueError(f"a number of {len(word)} characters is too long")
    if whole or other:
        return int(word, 10 if whole else 0)
    value = float(word)
    if not math.isfinite(value):
        raise ValueError(f"{word} is not a finite number")
    return value
