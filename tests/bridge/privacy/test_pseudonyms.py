"""Tests of replacing a pseudonym in texts."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.privacy.pseudonyms import Redactor, parse_pseudonym
from rules.faults import InputFaults


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Heron", "erased"),
        ("heron, HERON and Heron's", "erased, erased and erased's"),
        ("Herons, upheron, heron_1", "Herons, upheron, heron_1"),
        ("Captain: Heron", "Captain: erased"),
        ("", ""),
    ],
)
def test_whole_words_only(text: str, expected: str) -> None:
    """Whole words in any spelling are replaced; longer words stay."""
    assert Redactor("Heron").redact(text) == expected


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("Grey Heron", "grey   HERON"),
        ("Grey Heron", "Grey\nHeron"),
        ("Zo\u00eb", "Zoe\u0308"),
        ("Zoe\u0308", "ZO\u00cb"),
        ("Strau\u00df", "STRAUSS"),
        ("O\"Hara\\", "o\"hara\\"),
        ("a.b", "A.B"),
    ],
)  # fmt: skip
def test_spellings_of_one_name(name: str, text: str) -> None:
    """Spaces, accents and case make no other person."""
    redactor = Redactor(name)
    assert redactor.matches(text)
    assert redactor.redact(f"({text})") == "(erased)"


def test_longer_names_of_others_stay() -> None:
    """A longer pseudonym of another person stays."""
    redactor = Redactor("Heron", excluded=["Heron", "Heron 2", "Grey Heron", "Plover"])
    assert redactor.redact("Heron, Heron 2, Grey Heron, heron 3") == "erased, Heron 2, Grey Heron, erased 3"
    assert not redactor.occurs_in("grey heron")


@pytest.mark.parametrize("given_name", ["", "  ", "\n", "x" * 61])
def test_invalid_pseudonyms_are_refused(given_name: str) -> None:
    """An empty pseudonym, and one that is too long, are refused."""
    with pytest.raises(InputFaults, match="is not a pseudonym"):
        parse_pseudonym(given_name)


@given(st.text(min_size=1, max_size=12), st.text(max_size=20))
def test_any_pseudonym_is_replaced(given_name: str, around: str) -> None:
    """Any pseudonym, with characters of patterns too, is replaced."""
    try:
        name = parse_pseudonym(given_name)
    except InputFaults:
        return
    redactor = Redactor(name)
    if not redactor.occurs_in("erased"):
        assert not redactor.occurs_in(redactor.redact(f"{around} {name} {around}"))
        assert not redactor.matches(redactor.redact(name))
