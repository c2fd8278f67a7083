"""Tests of differences: new, gone, different, and counts of the rest."""

from __future__ import annotations

from msgspec.structs import replace

from bridge.recording.file_format import EVENT_TOPICS, encode_message
from bridge.rejudge.difference import compare
from rules.judge.events import Finding, FindingChanged, FindingOpened, JudgeEvent, Notice, PhaseEntered
from rules.packs.model import FindingKind, Level

BEACON = Finding(
    1, FindingKind.OMITTED, "flow.a.beacon", "Beacon", "push", "stand", "captain", Level.CAUTION, 5.0, "off", "on", "beacon is off"
)  # fmt: skip
PUMP = replace(BEACON, number=2, item="flow.a.pump", sim_s=6.0, sentence="pump is off")


def outputs(*events: JudgeEvent) -> list[tuple[str, bytes]]:
    """Encode events as a recording has them."""
    return [(EVENT_TOPICS[type(event)], encode_message(event)) for event in events]


def opened(finding: Finding) -> FindingOpened:
    """Make the event that opens a finding."""
    return FindingOpened(finding.sim_s, finding)


def test_equal_outputs() -> None:
    """Equal bytes in equal order are no difference."""
    recorded = outputs(opened(BEACON), PhaseEntered(1.0, "push", ""))
    assert compare(recorded, list(recorded)).same


def test_outputs_of_only_one_side_are_new_or_gone() -> None:
    """Outputs of only one side are new or gone, whatever their numbers."""
    difference = compare(outputs(opened(BEACON)), outputs(opened(replace(PUMP, number=1))))
    assert [(o.difference, o.latest["item"]) for o in difference.differences] == [
        ("gone", "flow.a.beacon"),
        ("new", "flow.a.pump"),
    ]
    assert difference.counts == {"finding/opened": (1, 1)}


def test_findings_are_compared_in_their_final_state() -> None:
    """Findings are compared in their final state, field by field."""
    corrected = replace(BEACON, closed_s=9.0)
    before = outputs(opened(BEACON), FindingChanged(9.0, corrected))
    after = outputs(
        opened(replace(BEACON, level=Level.WARNING)), FindingChanged(8.0, replace(corrected, closed_s=8.0))
    )
    (other,) = compare(before, after).differences
    assert other.difference == "different"
    assert other.fields == ("level", "closed_s")[: len(other.fields)] or other.fields == ("closed_s",)


def test_numbers_are_not_compared() -> None:
    """Another number of a finding is no difference."""
    before = outputs(opened(replace(PUMP, number=1)))
    after = outputs(opened(BEACON), opened(PUMP))
    assert [(o.difference, o.latest["item"]) for o in compare(before, after).differences] == [
        ("new", "flow.a.beacon")
    ]


def test_notices_and_phases() -> None:
    """The same sentence at another time is different; a phase that is not entered is gone."""
    notice = Notice(
        5.0, Level.CAUTION, "captain", "flow.a.beacon", "push", "Before push: beacon is off.", 0, 1
    )
    before = outputs(notice, PhaseEntered(7.0, "push", "stand"))
    after = outputs(replace(notice, sim_s=6.0, finding=3))
    differences = compare(before, after).differences
    assert [(o.kind, o.difference, o.fields) for o in differences] == [
        ("notice", "different", ("sim_s",)),
        ("phase", "gone", ()),
    ]


def test_other_events_are_counted() -> None:
    """Differences of other events are only counted."""
    before, after = outputs(PhaseEntered(1.0, "a", "")), [("/event/verdict/changed", b"{}")]
    difference = compare([*before, *after], before)
    assert not difference.same
    assert difference.differences == ()
    assert difference.counts == {"verdict/changed": (1, 0)}
