"""Tests of the summary of a session, of plurals and of number ranges."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from msgspec import structs

from bridge.debrief.drawing.flow_marks import number_ranges
from bridge.debrief.model import DataGap, DebriefData, FindingDetail
from bridge.debrief.wording import gaps_sentence, pluralised, summary
from bridge.session.threat_error import ErrorClass
from rules.packs.model import FindingKind, Level
from rules.words import capitalised, join_and, number_in_words
from tests.bridge.debrief.recorded_flight import number_of


def was_or_were(count: int) -> str:
    """Write a count of at least one with its verb."""
    return f"{number_in_words(count)} {'was' if count == 1 else 'were'}"


def corrected_omission(debrief: DebriefData) -> FindingDetail:
    """Give the finding of the beacon, which was corrected in time."""
    return next(one for one in debrief.findings if one.finding.item == "flow.before_start.beacon")


def test_the_summary(debrief: DebriefData) -> None:
    """The summary names the crew, the session, its duration, the findings, the gates that were not ready and the first topic."""
    text = summary(debrief)
    assert text.startswith(
        "On 25 November 2026, 04:00 UTC, Heron as captain and Plover as first officer flew Session 1 of Course 12 on Bay 1: 14 min"
    )
    levels = Counter(detail.finding.level for detail in debrief.findings)
    errors = Counter(detail.error_class for detail in debrief.findings)
    found, warnings, cautions, procedural, handling = map(
        number_in_words,
        (
            len(debrief.findings),
            levels[Level.WARNING],
            levels[Level.CAUTION],
            errors[ErrorClass.PROCEDURAL],
            errors[ErrorClass.HANDLING],
        ),
    )
    assert (
        f"There were {found} findings ({warnings} at warning and {cautions} at caution): "
        f"{procedural} procedural errors and {handling} aircraft handling errors."
    ) in text
    findings = [detail.finding for detail in debrief.findings]
    carried = sum(finding.carried for finding in findings)
    corrected = sum(finding.corrected and not finding.carried for finding in findings)
    left = len(findings) - carried - corrected
    assert min(carried, corrected, left) > 0
    assert (
        f"{capitalised(was_or_were(corrected))} corrected in time; {was_or_were(carried)} carried into the next phase; "
        f"{was_or_were(left)} not corrected."
    ) in text
    late = [
        gate.passage.title.lower()
        for gate in debrief.gates
        if gate.passage.entered_s and not gate.passage.ready_s
    ]
    assert "push back" in late
    assert f"not ready: {join_and(late)}." in text
    number = number_of(debrief, "flow.panel_entries.v2_first_officer")
    assert f"First topic, number {number}: first officer's V2 148 kt, the sheet says 138 kt" in text


def test_a_clean_session(debrief: DebriefData) -> None:
    """Without findings the summary says so and has no first topic."""
    ready = tuple(replace(g, passage=structs.replace(g.passage, ready_s=1.0)) for g in debrief.gates)
    text = summary(replace(debrief, findings=(), gates=ready, crew={}))
    assert ", the crew flew" in text
    assert "There were no findings" in text
    assert "All eight gates were ready when they were entered." in text
    assert "First topic" not in text


def test_one_finding(debrief: DebriefData) -> None:
    """The summary of one finding is in the singular."""
    text = summary(replace(debrief, findings=(corrected_omission(debrief),)))
    assert "There was one finding (one at caution): one procedural error." in text
    assert "One was corrected in time; none was carried into the next phase." in text


def test_a_doubt_is_no_error(debrief: DebriefData) -> None:
    """What is not verifiable is counted apart from the errors, and is no topic."""
    doubt = replace(
        debrief.findings[1],
        error_class=ErrorClass.NOT_VERIFIABLE,
        finding=structs.replace(debrief.findings[1].finding, kind=FindingKind.NOT_VERIFIABLE),
    )
    error = corrected_omission(debrief)
    text = summary(replace(debrief, findings=(error, doubt)))
    assert "There was one finding (one at caution): one procedural error." in text
    assert "One item was not verifiable." in text
    assert f"First topic, number {error.finding.number}:" in text
    later = "could be judged later" if doubt.finding.corrected else "could not be judged"
    assert doubt.managed == later
    alone = summary(replace(debrief, findings=(doubt,)))
    assert "There were no findings" in alone
    assert "First topic" not in alone


def test_an_event_of_the_aeroplane_is_named_apart(debrief: DebriefData) -> None:
    """A fire bell is no error and no topic; the summary names it with its time."""
    event = replace(
        debrief.findings[1],
        error_class=ErrorClass.THREAT,
        finding=structs.replace(
            debrief.findings[1].finding,
            kind=FindingKind.AEROPLANE_EVENT,
            seat="aeroplane",
            label="Fire warning",
        ),
    )
    text = summary(replace(debrief, findings=(corrected_omission(debrief), event)))
    assert "There was one finding (one at caution): one procedural error." in text
    assert "One event of the aeroplane: fire warning at 0:" in text
    assert "There were no findings" in summary(replace(debrief, findings=(event,)))


def test_many_gaps_are_counted() -> None:
    """The longest gaps are listed, and the others counted."""
    gaps = [DataGap(10.0 * number, 10.0 * number + 0.3 + number / 10, 10.0 * number) for number in range(8)]
    text = gaps_sentence(gaps)
    assert text.startswith("1 s at 0:01:10, 0.9 s at 0:01:00, ")
    assert "and three shorter gaps." in text


def test_plurals_of_error_classes() -> None:
    """Error classes have plurals but `not verifiable`."""
    assert [pluralised(ErrorClass.PROCEDURAL, count) for count in (1, 2)] == [
        "procedural error",
        "procedural errors",
    ]
    assert pluralised(ErrorClass.NOT_VERIFIABLE, 3) == "not verifiable"


@pytest.mark.parametrize(
    ("numbers", "text"),
    [([3], "3"), ([3, 4], "3, 4"), ([6, 3, 4, 5], "3 to 6"), ([1, 3, 4, 5, 9], "1, 3 to 5, 9")],
)
def test_number_ranges(numbers: list[int], text: str) -> None:
    """Three or more numbers in a row are written as a range."""
    assert number_ranges(numbers) == text


def test_gates_that_were_judged_in_part_are_named(debrief: DebriefData) -> None:
    """What could not be judged is said of its own gates, not of those that were ready."""
    gates = tuple(
        replace(gate, passage=structs.replace(gate.passage, judged=gate.passage.needs - (n == 0)))
        for n, gate in enumerate(debrief.gates)
    )
    text = summary(replace(debrief, gates=gates))
    assert f"Judged in part: {gates[0].passage.title.lower()}." in text
    complete = tuple(
        replace(gate, passage=structs.replace(gate.passage, judged=gate.passage.needs))
        for gate in debrief.gates
    )
    assert "in part" not in summary(replace(debrief, gates=complete))


def test_a_session_without_data_was_not_flown(debrief: DebriefData) -> None:
    """Nothing was judged, so nobody flew without findings."""
    text = summary(replace(debrief, phases=(), findings=(), gates=(), notices=()))
    assert "no data came for Session 1 of Course 12 on Bay 1: nothing was judged." in text
    assert "flew" not in text
    assert "no findings" not in text
