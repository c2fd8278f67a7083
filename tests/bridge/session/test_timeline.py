"""Tests of bridge.session.timeline: entries with both times, in a limited number."""

from __future__ import annotations

import pytest

from bridge.session.session_events import (
    CourseChanged,
    RecordingStopped,
    RemarkAdded,
    SeatAssigned,
    SessionEnded,
    SessionEvent,
    SessionRenamed,
)
from bridge.session.timeline import MAX_ENTRIES, Timeline
from rules.judge.events import (
    CallEntered,
    CallUndone,
    GateCued,
    GateEntered,
    ItemStatus,
    MonitorsReset,
    Notice,
    PhaseEntered,
    Verdict,
    VerdictChanged,
    WaiverBegun,
    WaiverUndone,
)
from rules.packs.model import Level, Pack
from tests.contract.waiting import ManualClock


@pytest.fixture
def timeline(pack: Pack, clock: ManualClock) -> Timeline:
    """Give an empty timeline."""
    return Timeline(pack, clock)


@pytest.mark.parametrize(
    ("event", "expected"),
    [
        (
            Notice(1.0, Level.CAUTION, "captain", "x", "push", "Beacon is off.", 0, 1),
            ("notice", "Beacon is off.", "caution", "captain"),
        ),
        (PhaseEntered(1.0, "pushing", "stand"), ("phase", "Push back", "", "")),
        (PhaseEntered(1.0, "elsewhere", ""), ("phase", "elsewhere", "", "")),
        (GateCued(1.0, "push", 2, 9, 8, 0), ("gate", "push at the cue: 2 open, 8 of 9 judged", "", "")),
        (GateCued(1.0, "push", 0, 9, 9, 0), ("gate", "push at the cue: 0 open, 9 of 9 judged", "", "")),
        (
            GateEntered(1.0, "push", 1, 9, 9, 0, 1),
            ("gate", "push entered: 1 open, 9 of 9 judged", "", ""),
        ),
        (
            GateEntered(1.0, "push", 0, 9, 2, 0, 0),
            ("gate", "push entered: 0 open, 2 of 9 judged", "", ""),
        ),
        (CallEntered(1.0, "push_approved", "ground"), ("call", "push approved", "", "ground")),
        (
            CallEntered(1.0, "push_approved", "", earlier=True),
            ("call", "push approved: made earlier", "", ""),
        ),
        (
            CallUndone(1.0, "push_approved", "ground", 0.5),
            ("call", "push approved: undone", "", "ground"),
        ),
        (
            WaiverBegun(1.0, "flow.before.beacon", "lamp failed", "captain"),
            ("waiver", "Beacon waived: lamp failed", "", "captain"),
        ),
        (
            WaiverUndone(2.0, "flow.before.beacon", "", "instructor", 1.0),
            ("waiver", "Beacon no longer waived", "", "instructor"),
        ),
        (RemarkAdded(1.0, 0.0, "well done", "instructor"), ("remark", "well done", "", "instructor")),
        (
            SessionRenamed(1.0, 0.0, "Morning", "instructor"),
            ("session", "renamed: Morning", "", "instructor"),
        ),
        (
            SeatAssigned(1.0, 0.0, "captain", "Heron", "instructor"),
            ("session", "seat assigned: Captain: Heron", "", "instructor"),
        ),
        (SeatAssigned(1.0, 0.0, "captain", None), ("session", "seat assigned: Captain: nobody", "", "")),
        (CourseChanged(1.0, 0.0, "none"), ("session", "course: none", "", "")),
        (CourseChanged(1.0, 0.0, ""), ("session", "no course", "", "")),
        (SessionEnded(1.0, 0.0), ("session", "ended", "", "")),
        (RecordingStopped(1.0, 0.0, "no room"), ("session", "recording stopped: no room", "", "")),
        (MonitorsReset(1.0, 2), ("reset", "the simulator's clock jumped back; judging starts again", "", "")),
    ],
)
def test_each_event_for_people_becomes_an_entry(
    timeline: Timeline, event: SessionEvent, expected: tuple[str, str, str, str]
) -> None:
    """Each kind of event has its word and its sentence, in the titles of the pack."""
    timeline(event)
    (entry,) = timeline.entries
    text = entry.text.replace("Push back", "push") if entry.kind == "gate" else entry.text
    assert (entry.kind, text, entry.level, entry.by) == expected


@pytest.mark.parametrize(
    "event",
    [
        GateEntered(1.0, "push", 0, 9, 9, 0, 0),
        MonitorsReset(1.0, 0),
        VerdictChanged(1.0, "x", Verdict.MET, ItemStatus.MET, "so", "", ""),
    ],
)
def test_other_events_give_no_entry(timeline: Timeline, event: SessionEvent) -> None:
    """A gate entry without open items, the first start and single verdicts give no entry."""
    timeline(event)
    assert (list(timeline.entries), timeline.total) == ([], 0)


def test_entries_are_numbered_and_have_both_times(timeline: Timeline, clock: ManualClock) -> None:
    """Numbers rise by one; the simulator time is the event's, the UTC that of its arrival."""
    timeline(PhaseEntered(5.0, "stand", ""))
    clock.now_s += 2
    timeline(PhaseEntered(6.0, "pushing", "stand"))
    assert [(entry.number, entry.utc, entry.sim_s) for entry in timeline.entries] == [
        (1, 100.0, 5.0),
        (2, 102.0, 6.0),
    ]


def test_the_oldest_entries_are_dropped(timeline: Timeline) -> None:
    """Memory is limited; the numbers still count all entries."""
    for second in range(MAX_ENTRIES + 3):
        timeline(RemarkAdded(float(second), 0.0, "x"))
    assert len(timeline.entries) == MAX_ENTRIES
    assert timeline.total == MAX_ENTRIES + 3
    assert timeline.entries[0].number == 4
