"""Every sentence that a crew can hear: as the data files have it, and as a pilot would say it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache

import pytest
from ruamel.yaml import YAML

from bridge.outputs.voice.speech_text import speech_text
from tests.sentences.breaking import without_numbers
from tests.sentences.collecting import FOLDER, PACKS, Sentences, collect, read

LONGEST = 110
"""Characters of a sentence that is heard and understood at once; chosen by us, no source."""
SPELT_UNITS = re.compile(r"\b(?:kt|ft|psi|degC|deg|hPa|inHg|rpm|NM|kg|kHz|MHz|min|km)\b(?!-)|[%/]", re.ASCII)
CHECKS: Mapping[str, re.Pattern[str]] = {
    "identifier": re.compile(r"[a-z]_[a-z]|[a-z]\.[a-z]"),
    "placeholder": re.compile(r"[*{}\[\]<>]"),
    "twice": re.compile(r"\b(\w+) \1\b", re.IGNORECASE),
    "spaces": re.compile(r"  | [,;:.]|^\s|\s$"),
    "small letter": re.compile(r"^[a-z]"),
    "two stops": re.compile(r"[?!.]\.$"),
    "register word": re.compile(r"\b(?:undone|omitted|limit exceeded)\b", re.IGNORECASE),
    "condition read out": re.compile(r", needs [^;:.]* or no |must not|\bor no \b|became \w+ but not"),
    "double negative": re.compile(r"\bnot [a-z ]*\bno\b|\bno [a-z ]*\bnot\b"),
    "nested brackets": re.compile(r"\([^()]*\("),
    "sign for a side": re.compile(
        r"positive\)|\b(?:[Bb]ank|[Pp]itch|[Ll]ocalizer|[Gg]lide path|[Rr]udder trim|[Vv]ertical speed)\b[^;:.]* -[0-9]"
    ),
    "raw percentage": re.compile(r"(?i)\b(?:mixture|carburettor heat):? [0-9]"),
    "time not over": re.compile(r"for only|, but only"),
    "not so before": re.compile(r"^Check again: (?!.*(?:read|walk-round|sample)).*\b(?:still|yet)\b"),
    "too long": re.compile(rf"^.{{{LONGEST + 1},}}$"),
}
SPEECH_CHECKS: Mapping[str, re.Pattern[str]] = {
    "digits in speech": re.compile(r"[0-9]"),
    "unit in speech": SPELT_UNITS,
    "sign in speech": re.compile(r"[_*{}\[\]<>=|()\"]"),
}


@cache
def _said(pack: str) -> Sentences:
    return collect(pack)


@cache
def _known(pack: str) -> Sentences:
    return read(pack)


def _all(sentences: Sentences) -> Iterator[tuple[str, str, str, str]]:
    """Section, rule, text and speech of each sentence."""
    for section, entries in sentences.items():
        for rule, texts in entries.items():
            yield from ((section, rule, one.text, one.speech) for one in texts)


@pytest.mark.parametrize("pack", PACKS)
def test_the_files_have_what_the_crew_hears(pack: str) -> None:
    """The product says every sentence of the file, and no other; numbers may differ.  `--write` renews the file."""

    def words(sentences: Sentences) -> dict[tuple[str, str], list[str]]:
        return {
            (section, rule): [without_numbers(one.text) for one in texts]
            for section, entries in sentences.items()
            for rule, texts in entries.items()
        }

    assert words(_said(pack)) == words(_known(pack)), "see `python -m tests.sentences --write`"


@pytest.mark.parametrize("pack", PACKS)
def test_the_files_have_what_the_voice_says(pack: str) -> None:
    """The speech in a file is what the voice makes of its text."""
    for _, rule, text, speech in _all(_known(pack)):
        assert speech == speech_text(text), rule


@pytest.mark.parametrize("pack", PACKS)
def test_every_rule_can_speak(pack: str) -> None:
    """Each item and watch has a sentence when it is broken, but for those that wait for a value of another flight."""
    silent = {rule for rule, texts in _known(pack)["open"].items() if not texts}
    assert silent <= set(_exceptions()["silent"])


@pytest.mark.parametrize("pack", PACKS)
def test_each_sentence_is_fit_for_a_flight_deck(pack: str) -> None:
    """No sentence has raw names, placeholders, doubled words, odd spaces, or more than can be heard at once."""
    exceptions = _exceptions()
    for section, rule, text, speech in _all(_known(pack)):
        if section == "calls":
            continue
        found = {name for name, pattern in CHECKS.items() if pattern.search(text)}
        found |= {name for name, pattern in SPEECH_CHECKS.items() if pattern.search(speech)}
        found -= {name for name in found if rule in exceptions.get(name, ())}
        assert not found, f"{rule}: {found}: {text} / {speech}"


def test_no_exception_is_out_of_date() -> None:
    """A rule whose sentences are fit leaves the list of exceptions."""
    sentences = [one for pack in PACKS for one in _all(_known(pack))]
    patterns = {**CHECKS, **SPEECH_CHECKS}
    for name, pattern in patterns.items():
        for rule in _exceptions().get(name, ()):
            said = [(text, speech) for _, other, text, speech in sentences if other == rule]
            assert any(pattern.search(speech if name in SPEECH_CHECKS else text) for text, speech in said), (
                rule
            )


@cache
def _exceptions() -> Mapping[str, list[str]]:
    """Rules that a check does not pass yet, by the check."""
    data: dict[str, list[str] | None] = YAML(typ="safe", pure=True).load(
        (FOLDER / "exceptions.yaml").read_text("utf-8")
    )
    return {name: rules or [] for name, rules in data.items()}
