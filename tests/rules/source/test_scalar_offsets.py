"""Positions of characters of a text in the file: through quotes, escapes, folds and blocks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.faults import InputFaults
from rules.source import parse_source


def _at(text: str, key: str, word: str) -> tuple[int, int]:
    """Line and column of the first character of a word in the text under a key."""
    source = parse_source(text, "t.yaml")
    assert isinstance(source.data, dict)
    value = source.data[key]
    assert isinstance(value, str)
    place = source.place_in_text((key,), value.index(word))
    return place.line, place.column


@pytest.mark.parametrize(
    ("text", "word", "place"),
    [
        ("k: lights.beacon is on", "is", (1, 18)),
        ("k: lights.beacon is\n  on for 2 s", "for", (2, 6)),
        ("k: lights.beacon is\n\n   on for 2 s", "on for", (3, 4)),
        ("k: !!str  lights.beacon is on", "is", (1, 25)),
        ("k: &a  lights.beacon is on", "is", (1, 22)),
        ("k: 'it''s on'", "on", (1, 11)),
        ("k: 'a\n  b\n\n  c'", "c", (4, 3)),
        ('k: "caf\\u00e9 on"', "on", (1, 15)),
        ('k: "\\ud83d\\ude00 on"', "on", (1, 18)),
        ('k: "a \\\n   b on"', "on", (2, 6)),
        ('k: "tab\\t\\"on"', "on", (1, 12)),
        ("k: >-\n  lights.beacon is on\n  and gear.tug is attached", "and", (3, 3)),
        ("k: >-\n  one\n\n  two\n    three\n  four", "four", (6, 3)),
        ("k: >-\n  one\n\n  two\n    three\n  four", "three", (5, 5)),
        ("k: |\n  one\n  two", "two", (3, 3)),
        ("k: |2\n    one\n  two", "two", (3, 3)),
        ("k: |+\n  one\n\n  two\n\n", "two", (4, 3)),
        ("k: > # a note\n\n  one\n  two", "two", (4, 3)),
        ("k: >-\r\n  one\r\n  two\r\n", "two", (3, 3)),
    ],
)
def test_place_inside(text: str, word: str, place: tuple[int, int]) -> None:
    """A character of a text has its place in the file, in every style of YAML."""
    assert _at(text, "k", word) == place


@given(st.text(max_size=200), st.integers(-5, 300))
def test_outside_stays_inside_the_file(body: str, offset: int) -> None:
    """Any offset in any text gives a place in the file."""
    text = "k: |\n  " + body
    try:
        source = parse_source(text, "t.yaml")
    except InputFaults:
        return
    place = source.place_in_text(("k",), offset)
    assert 1 <= place.line <= text.count("\n") + 1
    assert place.column >= 1


_WORDS = st.lists(st.text("abc:#'\"\\é", min_size=1, max_size=6), min_size=1, max_size=8)
_GAPS = st.lists(st.sampled_from([" ", "\n", "\n\n", "  "]), min_size=8, max_size=8)


@given(_WORDS, _GAPS, st.sampled_from(["'", '"', ">-", "|-", ""]))
def test_each_character_is_the_one_in_the_file(words: list[str], gaps: list[str], style: str) -> None:
    """Every character of a value that was neither folded nor escaped is in the file at its offset."""
    text = _written(words, gaps, style)
    try:
        source = parse_source(text, "t.yaml")
    except InputFaults:
        return
    value = source.value_at(("k",))
    lines = text.split("\n")
    for offset, char in enumerate(value if isinstance(value, str) else ""):
        place = source.place_in_text(("k",), offset)
        there = lines[place.line - 1][place.column - 1 : place.column]
        assert char in {there, " ", "\n"} or there == "\\"


def _written(words: list[str], gaps: list[str], style: str) -> str:
    """Write a document with these words under `k`, in a style."""
    scalar = "".join(word + gap for word, gap in zip(words, gaps, strict=False)).rstrip()
    if style == "'":
        scalar = f"'{scalar.replace(chr(39), chr(39) * 2)}'"
    elif style == '"':
        escaped = scalar.replace("\\", "\\\\").replace('"', '\\"')
        scalar = f'"{escaped}"'
    elif style:
        scalar = f"{style}\n{scalar}"
    return f"k: {scalar}".replace("\n", "\n  ")
