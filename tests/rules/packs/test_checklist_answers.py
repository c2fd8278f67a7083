"""Answers of a checklist: words, placeholders, and a `*` in them."""

from __future__ import annotations

import pytest

from rules.language.scope import Scope
from rules.packs.checklist_answers import answer_faults
from rules.packs.sourced import SourceLocation
from rules.signals.book import load_book
from rules.source import parse_source
from tests.rules.packs.sample_packs import fault_text

SCOPE = Scope(load_book("twin_jet").signals, limits={}, inoperative=("hydraulics.2", "bleed.duct"))


def _faults_of(answer: str) -> list[str]:
    """Faults of an answer in double quotes."""
    spot = SourceLocation(parse_source(f'answer: "{answer}"', "t.yaml"), ("answer",))
    return [fault_text(fault).split(",")[0].split(" | ")[0] for fault in answer_faults(answer, spot, SCOPE)]


@pytest.mark.parametrize(
    "answer",
    [
        "{lights.beacon}",
        "closed and locked",
        "{fuel.total} kilograms",
        "set 128",
        "auto",
        "left, right closed",
        "{fuel.pump.*.switch}",
        "{fuel.pump.left_*.switch}",
    ],
)
def test_answers_that_name_a_state_are_accepted(answer: str) -> None:
    """An answer that names a state or a value passes."""
    assert _faults_of(answer) == []


@pytest.mark.parametrize(
    "answer", ["checked", "Set", "DONE.", "complete", "set and checked", "both checked", "as required"]
)
def test_answers_that_name_no_state_are_refused(answer: str) -> None:
    """An answer such as "checked", which names no state, is refused."""
    assert _faults_of(answer) == [f"1:9: the answer '{answer}' does not name the state"]


@pytest.mark.parametrize("answer", ["", "  ", "..."])
def test_empty_answers(answer: str) -> None:
    """An answer without a word is refused."""
    assert len(_faults_of(answer)) == 1


@pytest.mark.parametrize(
    ("answer", "fault"),
    [
        ("{fuel.totl} kg", "1:11: unknown signal fuel.totl"),
        ("on, {fuel.total", "1:14: an unmatched brace"),
        ("on} lights", "1:12: an unmatched brace"),
        ("about {}", "1:17: unknown signal "),
        ("x {a} {b}", "1:13: unknown signal a"),
        ("engine * on", "1:17: this `*` stands for nothing"),
        ("below {limit.oil}", "1:17: unknown limit limit.oil"),
        ("on, {fuel.pmp.*.switch}", "1:15: no signal fits fuel.pmp.*.switch"),
        ("on, {hydraulics.*.pump.*.switch}", "1:15: hydraulics.*.pump.*.switch has more than one `*`"),
    ],
)
def test_places_in_answers(answer: str, fault: str) -> None:
    """An unknown placeholder, or an unmatched brace, is reported at its character."""
    assert _faults_of(answer)[0] == fault
