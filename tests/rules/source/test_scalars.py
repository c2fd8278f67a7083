"""Plain words of YAML: text and numbers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.source.scalars import Scalar, resolve_scalar


@pytest.mark.parametrize(
    "word", ["on", "off", "On", "yes", "no", "y", "n", "1:30", "12:00:00", "0206", "007", "00.5", "1_000", "1e", "-", "+", ".", "1.2.3",
             "0b101", "017", "nan", "NaN", "inf", "tRue", "nULL", "2026-01-01", "2800..3200"],
)  # fmt: skip
def test_words_stay_words(word: str) -> None:
    """A word, a clock time, a code or a date stays text."""
    assert resolve_scalar(word) == word


@pytest.mark.parametrize(
    ("word", "value"),
    [("0", 0), ("12", 12), ("-5", -5), ("+5", 5), ("0x1F", 31), ("0o17", 15), ("1.5", 1.5), (".5", 0.5), ("5.", 5.0), ("-1e3", -1000.0),
     ("0.25", 0.25), ("true", True), ("False", False), ("~", None), ("", None), ("null", None)],
)  # fmt: skip
def test_core_schema(word: str, value: Scalar) -> None:
    """Numbers, truth values and null have the values and types of YAML 1.2's core schema."""
    found = resolve_scalar(word)
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize("word", [".nan", ".NaN", ".inf", "-.INF", "+.inf", "1e999", "-1e400", "9" * 41])
def test_no_number_without_end(word: str) -> None:
    """A number that is not finite or too long is refused."""
    with pytest.raises(ValueError, match="number"):
        resolve_scalar(word)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_finite_number_comes_back(number: float) -> None:
    """A number that Python writes is read as the same number."""
    found = resolve_scalar(repr(number))
    assert isinstance(found, int | float)
    assert math.isclose(found, number, rel_tol=0, abs_tol=0)


@given(st.text(max_size=60))
def test_any_word_has_a_value_or_a_sentence(word: str) -> None:
    """Any word gives a value or a ValueError, and text is unchanged."""
    try:
        found = resolve_scalar(word)
    except ValueError:
        found = word
    assert not isinstance(found, str) or found == word
