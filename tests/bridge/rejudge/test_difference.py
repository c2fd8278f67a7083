"""Tests of what is other: new, gone, different, and counts of the rest."""

from __future__ import annotations

from msgspec.structs import replace

from bridge.recording.file_format import EVENT_TOPICS, encode_message
from bridge.rejudge.difference import compare, count_by_kind
from rules.judge.events import Finding, FindingChanged, FindingOpened, JudgeEvent, Notice, PhaseEntered
from rules.packs.model import FindingKind, Level

BEACON = Finding(
    1, FindingKind.OMITTED, "flow.a.beacon", "Beacon", "push", "stand", "captain", Level.CAUTION, 5.0, "off", "on", "beacon is off"
)  # fmt: skip
PUMP = replace(BEACON, number=2, item="flow.a.pump", sim_s=6.0, sentence="pump is off")


def outputs(*entries: JudgeEvent) -> list[tuple[str, bytes]]:
    """Entries as a recording has them."""
    return [(EVENT_TOPICS[type(entry)], encode_message(entry)) for entry in entries]


def opened(finding: Finding) -> FindingOpened:
    """It comes on the record."""
    return FindingOpened(finding.sim_s, finding)


def test_the_same_is_the_same() -> None:
    """Equal bytes in equal order are no difference."""
    said = outputs(opened(BEACON), PhaseEntered(1.0, "push", ""))
    assert compare(said, list(said)).same


def test_new_and_gone() -> None:
    """What only one of them has, whatever its number."""
    difference = compare(outputs(opened(BEACON)), outputs(opened(replace(PUMP, number=1))))
    assert [(o.difference, o.latest["item"]) for o in difference.differences] == [
        ("gone", "flow.a.beacon"),
        ("new", "flow.a.pump"),
    ]
    assert difference.counts == {"finding/opened": (1, 1)}


def test_a_finding_counts_as_it_stands_at_the_end() -> None:
    """A change that comes to the same is none; another level or end is told by its field."""
    mended = replace(BEACON, closed_s=9.0)
    before = outputs(opened(BEACON), FindingChanged(9.0, mended))
    now = outputs(
        opened(replace(BEACON, level=Level.WARNING)), FindingChanged(8.0, replace(mended, closed_s=8.0))
    )
    (other,) = compare(before, now).differences
    assert other.difference == "different"
    assert other.fields == ("level", "closed_s")[: len(other.fields)] or other.fields == ("closed_s",)


def test_a_number_that_moved_up_is_no_difference() -> None:
    """A finding after a new one is the same as before."""
    before = outputs(opened(replace(PUMP, number=1)))
    now = outputs(opened(BEACON), opened(PUMP))
    assert [(o.difference, o.latest["item"]) for o in compare(before, now).differences] == [
        ("new", "flow.a.beacon")
    ]


def test_notices_and_phases() -> None:
    """The same sentence at another time is different; a phase that is not entered any more is gone."""
    notice = Notice(
        5.0, Level.CAUTION, "captain", "flow.a.beacon", "push", "Before push: beacon is off.", 0, 1
    )
    before = outputs(notice, PhaseEntered(7.0, "push", "stand"))
    now = outputs(replace(notice, sim_s=6.0, finding=3))
    others = compare(before, now).differences
    assert [(o.kind, o.difference, o.fields) for o in others] == [
        ("notice", "different", ("sim_s",)),
        ("phase", "gone", ()),
    ]
    assert count_by_kind(others) == {("notice", "different"): 1, ("phase", "gone"): 1}


def test_the_same_findings_with_other_verdicts_are_counted() -> None:
    """Where only other entries differ nothing is listed, and it is not the same."""
    before, now = outputs(PhaseEntered(1.0, "a", "")), [("/event/verdict/changed", b"{}")]
    difference = compare([*before, *now], before)
    assert not difference.same
    assert difference.differences == ()
    assert difference.counts == {"verdict/changed": (1, 0)}
