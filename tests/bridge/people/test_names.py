"""A pseudonym overwritten in texts, requests, entries."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.people.names import Blot


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
    assert Blot("Heron").text(text) == after


@given(st.text(min_size=1, max_size=12).filter(lambda t: t.strip() == t and t), st.text(max_size=20))
def test_any_pseudonym_is_gone(pseudonym: str, around: str) -> None:
    """Whatever a pseudonym is made of, signs of patterns too, it does not stand in the text afterwards."""
    blot = Blot(pseudonym)
    text = f"{around} {pseudonym} {around}"
    if not blot.stands_in("erased"):
        assert not blot.stands_in(blot.text(text))


@pytest.mark.parametrize(
    ("asked", "after"),
    [
        (
            {"verb": "seat", "name": "captain", "reason": "Captain", "by": "Captain"},
            {"verb": "seat", "name": "captain", "reason": "erased", "by": "erased"},
        ),
        ({"verb": "name", "name": "Captain's day"}, {"verb": "name", "name": "erased's day"}),
        ({"verb": "confirm", "name": "flow.a.b", "by": "captain"}, {"verb": "confirm", "name": "flow.a.b", "by": "captain"}),
        ({"verb": "amend", "name": "captain.yaml", "reason": "captain: 1", "by": "x"}, {"verb": "amend", "name": "captain.yaml", "reason": "captain: 1", "by": "x"}),
    ],
)  # fmt: skip
def test_requests_keep_what_is_no_person(asked: dict[str, str], after: dict[str, str]) -> None:
    """Ids of seats, items and calls and the papers stay, though somebody bears such a word as a name."""
    assert Blot("captain").request(asked) == after


def test_entries_keep_what_the_aeroplane_shows() -> None:
    """What people wrote and the words of an excuse are overwritten; what the aeroplane shows stays."""
    blot = Blot("beacon")
    shown = {"sentence": "beacon is off, needs on", "by": "beacon", "text": "a beacon"}
    assert blot.told(shown) == {"sentence": "beacon is off, needs on", "by": "erased", "text": "a erased"}
    assert blot.told({"sentence": "excused: none (beacon)"}) == {"sentence": "excused: none (erased)"}
