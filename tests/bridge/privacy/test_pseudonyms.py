"""A pseudonym overwritten in texts."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.privacy.pseudonyms import Redactor, parse_pseudonym
from rules.faults import InputFaults


@pytest.mark.parametrize(
    ("text", "after"),
    [
        ("Heron", "erased"),
        ("heron, HERON and Heron's", "erased, erased and erased's"),
        ("Herons, upheron, heron_1", "Herons, upheron, heron_1"),
        ("Captain: Heron", "Captain: erased"),
        ("", ""),
    ],
)
def test_whole_words_only(text: str, after: str) -> None:
    """It is overwritten as a whole word, however it is written; longer words stay."""
    assert Redactor("Heron").redact(text) == after


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
def test_one_name_has_many_ways(name: str, text: str) -> None:
    """Spaces, accents and large letters make no other person."""
    blot = Redactor(name)
    assert blot.matches(text)
    assert blot.redact(f"({text})") == "(erased)"


def test_a_longer_name_of_another_stays() -> None:
    """Somebody whose pseudonym has this one in it keeps theirs."""
    blot = Redactor("Heron", excluded=["Heron", "Heron 2", "Grey Heron", "Plover"])
    assert blot.redact("Heron, Heron 2, Grey Heron, heron 3") == "erased, Heron 2, Grey Heron, erased 3"
    assert not blot.occurs_in("grey heron")


@pytest.mark.parametrize("said", ["", "  ", "\n", "x" * 61])
def test_nothing_is_no_name(said: str) -> None:
    """An empty name would stand everywhere; it is refused, and so is one that nobody can have."""
    with pytest.raises(InputFaults, match="is no pseudonym"):
        parse_pseudonym(said)


@given(st.text(min_size=1, max_size=12), st.text(max_size=20))
def test_any_pseudonym_is_gone(said: str, around: str) -> None:
    """Whatever a pseudonym is made of, signs of patterns too, it does not stand in the text afterwards."""
    try:
        name = parse_pseudonym(said)
    except InputFaults:
        return
    blot = Redactor(name)
    if not blot.occurs_in("erased"):
        assert not blot.occurs_in(blot.redact(f"{around} {name} {around}"))
        assert not blot.matches(blot.redact(name))
