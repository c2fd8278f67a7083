"""Wording of findings and notices."""

from __future__ import annotations

import pytest

from rules.judge.events import Finding, LeadIn, before_gate_text
from rules.judge.wording import (
    actual_and_wanted,
    lead_in_of,
    notice_text,
    prerequisite_text,
    too_early_text,
    with_rule_name,
)
from rules.language import checked_tree as c
from rules.language.truth import Reason
from rules.packs.model import FindingKind, Level
from tests.rules.judge.scripted_flight import BEACON, PUMP, called, item, on, replace

REASON = "beacon is off"


def finding(kind: FindingKind, *, gate: str = "push", carried: bool = False) -> Finding:
    """A finding on the beacon."""
    return Finding(
        1,
        kind,
        "b",
        "Beacon",
        gate,
        "stand",
        "captain",
        Level.CAUTION,
        5.0,
        "off",
        "on",
        REASON,
        carried=carried,
    )


@pytest.mark.parametrize(
    ("kind", "gate", "carried", "text"),
    [
        (FindingKind.OMITTED, "Push back", False, "Before push back: beacon is off."),
        (FindingKind.WRONG_VALUE, "Before start", False, "Before start: beacon is off."),
        (FindingKind.OMITTED, "APU start", False, "Before APU start: beacon is off."),
        (FindingKind.OMITTED, "Push back", True, "Push back has begun: beacon is off."),
        (FindingKind.UNDONE, "Push back", False, "Check again: beacon is off."),
        (FindingKind.TOO_EARLY, "Push back", False, "Too early: beacon is off."),
        (FindingKind.OUT_OF_ORDER, "", False, "Wrong order: beacon is off."),
        (FindingKind.LIMIT_EXCEEDED, "", False, "Beacon is off."),
        (
            FindingKind.NOT_VERIFIABLE,
            "Push back",
            False,
            "Before push back, cannot verify beacon: beacon is off.",
        ),
    ],
)
def test_notice_text(kind: FindingKind, gate: str, carried: bool, text: str) -> None:
    """A notice names the gate or the kind of error, and the reason, in one sentence."""
    found = finding(kind, gate=gate, carried=carried)
    assert notice_text(lead_in_of(found, gate), (REASON,), gate, found.label) == text


def test_another_gate_finds_it_still_open() -> None:
    """A notice for a later gate says so, whatever the kind of error was."""
    lead_in = lead_in_of(finding(FindingKind.UNDONE, gate="push"), "taxi")
    assert notice_text(lead_in, (REASON,), "Taxi") == f"Before taxi, still open: {REASON}."


def test_a_limit_is_reported_by_its_name() -> None:
    """The notice of an exceeded limit begins with the name of the limit."""
    found = finding(FindingKind.LIMIT_EXCEEDED)
    reason = "change in N2 0.1 %, needs at least 2 %"
    assert with_rule_name(found, reason) == f"Beacon: {reason}"
    assert with_rule_name(found, REASON) == REASON


def test_before_gate_text_does_not_repeat_before() -> None:
    """A title that begins with `Before` gets no second `before`."""
    assert before_gate_text("Before taxi") == "Before taxi"
    assert before_gate_text("Line-up") == "Before line-up"
    assert before_gate_text("After start") == "Before the after-start flow"


def test_evidence_is_gathered_from_the_parts() -> None:
    """If the whole has no single pair, the parts' pairs are joined."""
    parts = (Reason(truth=False, sentence="a", actual="1", wanted="2"), Reason(truth=False, sentence="b"))
    inner = Reason(
        truth=False, sentence="c", parts=(Reason(truth=False, sentence="d", actual="3", wanted="4"),)
    )
    assert actual_and_wanted(Reason(truth=False, sentence="all", parts=(*parts, inner))) == ("1; 3", "2; 4")
    assert actual_and_wanted(Reason(truth=None, sentence="no data")) == ("no data", "")
    assert actual_and_wanted(Reason(truth=False, sentence="x", actual="off", wanted="on")) == ("off", "on")


def test_what_is_too_early_is_told_by_calls_or_facts() -> None:
    """An action is too early before its calls, else while its prerequisite is not so; never by the text of a condition."""
    reason = Reason(truth=False, sentence="pump is off")
    by_call = replace(item("a", on(BEACON)), after=c.And((called("ready"), called("ground_clear"))))
    by_fact = replace(item("a", on(BEACON)), after=on(PUMP), after_text="fuel.pump is on")
    assert too_early_text(by_call, reason) == "a before ready and ground clear"
    assert too_early_text(by_fact, reason) == "a while pump is off"
    assert prerequisite_text(by_call) == "ready and ground clear"
    assert prerequisite_text(by_fact) == "pump is on"


def test_summary() -> None:
    """One sentence stays as it is, several are counted."""
    assert notice_text(LeadIn.SUMMARY, ["a"]) == "Still open: a."
    assert notice_text(LeadIn.SUMMARY, ["a", "b"]) == "2 still open: a; b."
