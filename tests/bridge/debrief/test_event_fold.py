"""Tests of the fold over a session's events: reopened findings, seats, undone calls, traces, clock jumps."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from bridge.debrief.event_fold import EventFold
from bridge.debrief.time_axis import TimeAxis
from bridge.rejudge.load_input_log import LoadedInputLog
from bridge.session.session_events import SeatAssigned
from rules.judge.events import (
    CallEntered,
    CallUndone,
    Finding,
    FindingChanged,
    FindingOpened,
    ItemStatus,
    MonitorsReset,
    PhaseEntered,
    TraceEnd,
    TraceRecorded,
    Verdict,
    VerdictChanged,
    WaiverBegun,
    WaiverUndone,
)
from rules.packs.model import FindingKind, Level, Pack
from rules.signals.model import Frame

FOUND = Finding(
    1, FindingKind.UNDONE, "flow.before.beacon", "Beacon", "push", "stand", "captain", Level.CAUTION, 10.0,
    "off", "on", "beacon is off",
)  # fmt: skip


def _axis() -> TimeAxis:
    """Sixty frames, one per second; the clock jumps back from 29 to 5 after the thirtieth."""
    loaded = LoadedInputLog()
    for number in range(60):
        epoch = int(number >= 30)
        sim_s = number - 25.0 * epoch
        loaded.input_log.append_frame(Frame("", sim_s, float(number), epoch, (), ()))
        loaded.utc.append(1000.0 + number)
    return TimeAxis(loaded)


def _closed_at_s(fold: EventFold) -> float | None:
    return fold.findings[1].closed_at_s


@pytest.fixture
def fold(pack: Pack) -> EventFold:
    """A fold without events."""
    return EventFold(pack, _axis(), 1000.0)


def test_waivers_begin_and_end_on_the_axis(fold: EventFold) -> None:
    """A waiver has its item, gates, author and reason; it ends with its own undo, also after a jump of the clock."""
    fold.fold(WaiverBegun(10.0, "flow.before.beacon", "lamp failed", "captain"), 11)
    fold.fold(WaiverBegun(12.0, "flow.before.pressure", "no pump", "instructor"), 13)
    fold.fold(WaiverUndone(7.0, "flow.before.beacon", "mended", "atc", 10.0), 33)
    fold.fold(WaiverBegun(8.0, "flow.before.beacon", "again", "captain"), 34)
    first, second, third = fold.waivers
    assert (first.label, first.gates, first.reason, first.by) == (
        "Beacon",
        ("Push back",),
        "lamp failed",
        "captain",
    )
    assert (first.from_s, first.to_s, first.undone_by, first.undone_reason) == (10.0, 31.0, "atc", "mended")
    assert (second.item, second.to_s, third.from_s, third.to_s) == ("flow.before.pressure", None, 32.0, None)


def test_the_end_of_a_waiver_without_its_begin(fold: EventFold) -> None:
    """Where the begin was not recorded, the waiver lasts from the start, for an unknown reason."""
    fold.fold(WaiverUndone(10.0, "flow.before.beacon", "mended", "atc", 2.0), 11)
    (waiver,) = fold.waivers
    assert (waiver.from_s, waiver.to_s, waiver.reason, waiver.by) == (0.0, 10.0, "", "")


def test_a_finding_that_applies_again_is_open_again(fold: EventFold) -> None:
    """A closed finding that applies again has no time of correction."""
    fold.fold(FindingOpened(10.0, FOUND), 11)
    fold.fold(FindingChanged(12.0, replace(FOUND, closed_s=12.0)), 13)
    assert _closed_at_s(fold) == 12.0
    fold.fold(FindingChanged(15.0, FOUND), 16)
    assert _closed_at_s(fold) is None
    fold.fold(FindingChanged(20.0, replace(FOUND, closed_s=20.0)), 21)
    assert (fold.findings[1].at_s, fold.findings[1].closed_at_s) == (10.0, 20.0)


def test_a_close_keeps_its_time_when_another_field_changes(fold: EventFold) -> None:
    """A lead time recorded after a jump of the clock changes neither the opening nor the close."""
    fold.fold(FindingOpened(10.0, FOUND), 11)
    closed = replace(FOUND, closed_s=12.0)
    fold.fold(FindingChanged(12.0, closed), 13)
    fold.fold(FindingChanged(14.0, replace(closed, lead_s=3.0)), 40)
    detail = fold.findings[1]
    assert (detail.at_s, detail.closed_at_s, detail.finding.lead_s) == (10.0, 12.0, 3.0)


def test_after_a_jump_the_axis_continues(fold: EventFold) -> None:
    """Events by the new clock are later than all events by the old one."""
    fold.fold(PhaseEntered(3.0, "stand", ""), 4)
    fold.fold(MonitorsReset(5.0, 1), 31)
    fold.fold(PhaseEntered(6.0, "pushing", "stand"), 32)
    first, second = fold.phases
    assert (first.from_s, first.to_s, second.from_s) == (3.0, 30.0, 30.0)
    assert (second.title, second.code, second.utc) == ("Push back", "PBT", 1031.0)


def test_a_jump_clears_the_status_of_items(fold: EventFold) -> None:
    """After a jump the status of an item is unknown until its next verdict."""
    fold.fold(VerdictChanged(1.0, "flow.before.beacon", Verdict.MET, ItemStatus.MET, "", "", ""), 2)
    fold.fold(MonitorsReset(5.0, 1), 31)
    assert fold.status_changes["flow.before.beacon"] == [(1.0, ItemStatus.MET), (29.0, ItemStatus.NO_DATA)]


def test_the_first_person_of_a_seat_gets_its_earlier_findings(fold: EventFold) -> None:
    """A late first name counts for earlier findings; a second name in the same seat only for later ones."""
    fold.fold(FindingOpened(10.0, FOUND), 11)
    fold.fold(SeatAssigned(12.0, 1012.0, "captain", "Heron"), 13)
    fold.fold(SeatAssigned(14.0, 1014.0, "captain", "Plover"), 15)
    fold.fold(FindingOpened(16.0, replace(FOUND, number=2, sim_s=16.0)), 17)
    assert [span.person for span in fold.findings.values()] == ["Heron", "Plover"]
    assert fold.crew == {"captain": "Plover"}
    fold.fold(SeatAssigned(18.0, 1018.0, "captain", None), 19)
    assert fold.crew == {}


def test_a_call_is_undone(fold: EventFold) -> None:
    """The latest call that is not undone is undone."""
    for sim_s in (1.0, 2.0):
        fold.fold(CallEntered(sim_s, "push_approved", "ground"), int(sim_s) + 1)
    fold.fold(CallUndone(4.0, "push_approved", "instructor", 2.0), 5)
    assert [(call.at_s, call.undone_at_s) for call in fold.calls] == [(1.0, None), (2.0, 4.0)]
    assert fold.calls[0].title == "push approved"


def test_a_trace_begins_before_its_end_by_its_duration(fold: EventFold) -> None:
    """A trace recorded after a jump begins on the session's axis earlier by its duration."""
    record = TraceRecorded(
        12.0, "trace.start", "Start", 8.0, 12.0, TraceEnd.ENDED, (8.0, 12.0), (), (), (), (1,)
    )  # fmt: skip
    fold.fold(record, 38)
    (trace,) = fold.traces
    assert trace.at_s == 32.0


def test_a_phase_unknown_to_the_pack(fold: EventFold) -> None:
    """A phase that is not in the pack is shown by its id."""
    fold.fold(PhaseEntered(1.0, "gliding", ""), 2)
    assert (fold.phases[0].title, fold.phases[0].code) == ("gliding", "")
