"""What was told in a session, folded: findings that close and open again, seats, calls taken back, strips, jumps."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from bridge.debrief.event_fold import EventFold
from bridge.debrief.time_axis import TimeAxis
from bridge.rejudge.load_input_log import LoadedInputLog
from bridge.session.session_events import SessionChanged, SessionChangeKind
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
)
from rules.packs.model import FindingKind, Level, Pack
from rules.signals.model import Frame

FOUND = Finding(
    1, FindingKind.UNDONE, "flow.before.beacon", "Beacon", "push", "stand", "captain", Level.CAUTION, 10.0,
    "off", "on", "beacon is off, needs on",
)  # fmt: skip


def _axis() -> TimeAxis:
    """Sixty frames, one a second; the clock jumps back from 29 to 5 after the thirtieth."""
    taped = LoadedInputLog()
    for number in range(60):
        epoch = int(number >= 30)
        sim_s = number - 25.0 * epoch
        taped.input_log.append_frame(Frame("", sim_s, float(number), epoch, (), ()))
        taped.utc.append(1000.0 + number)
    return TimeAxis(taped)


def _closed_at_s(story: EventFold) -> float | None:
    return story.findings[1].closed_at_s


@pytest.fixture
def story(pack: Pack) -> EventFold:
    """Nothing told yet."""
    return EventFold(pack, _axis(), 1000.0)


def test_what_applies_again_is_open_again(story: EventFold) -> None:
    """A finding that closed, and that is the same error still when it applies again, has no time at which it was put right."""
    story.fold(FindingOpened(10.0, FOUND), 11)
    story.fold(FindingChanged(12.0, replace(FOUND, closed_s=12.0)), 13)
    assert _closed_at_s(story) == 12.0
    story.fold(FindingChanged(15.0, FOUND), 16)
    assert _closed_at_s(story) is None
    story.fold(FindingChanged(20.0, replace(FOUND, closed_s=20.0)), 21)
    assert (story.findings[1].at_s, story.findings[1].closed_at_s) == (10.0, 20.0)


def test_a_close_keeps_its_time_when_something_else_changes(story: EventFold) -> None:
    """A lead time that comes after the clock jumped back moves neither the opening nor the close."""
    story.fold(FindingOpened(10.0, FOUND), 11)
    closed = replace(FOUND, closed_s=12.0)
    story.fold(FindingChanged(12.0, closed), 13)
    story.fold(FindingChanged(14.0, replace(closed, lead_s=3.0)), 40)
    found = story.findings[1]
    assert (found.at_s, found.closed_at_s, found.finding.lead_s) == (10.0, 12.0, 3.0)


def test_after_a_jump_time_goes_on(story: EventFold) -> None:
    """What is told by the new clock lies after all that was told by the old one."""
    story.fold(PhaseEntered(3.0, "stand", ""), 4)
    story.fold(MonitorsReset(5.0, 1), 31)
    story.fold(PhaseEntered(6.0, "pushing", "stand"), 32)
    first, second = story.phases
    assert (first.from_s, first.to_s, second.from_s) == (3.0, 30.0, 30.0)
    assert (second.title, second.code, second.utc) == ("Push back", "PBT", 1031.0)


def test_a_jump_forgets_how_items_stood(story: EventFold) -> None:
    """After a jump nothing is known of an item until its verdict is told again."""
    story.fold(VerdictChanged(1.0, "flow.before.beacon", Verdict.MET, ItemStatus.MET, "", "", ""), 2)
    story.fold(MonitorsReset(5.0, 1), 31)
    assert story.life_changes["flow.before.beacon"] == [(1.0, ItemStatus.MET), (29.0, ItemStatus.NO_DATA)]


def test_who_is_named_first_sat_there_before(story: EventFold) -> None:
    """A name given late counts for what was found before; a second one in the same seat only for what comes after."""
    story.fold(FindingOpened(10.0, FOUND), 11)
    story.fold(SessionChanged(12.0, 1012.0, SessionChangeKind.SEAT_ASSIGNED, "Captain: Heron"), 13)
    story.fold(SessionChanged(14.0, 1014.0, SessionChangeKind.SEAT_ASSIGNED, "Captain: Plover"), 15)
    story.fold(FindingOpened(16.0, replace(FOUND, number=2, sim_s=16.0)), 17)
    assert [found.person for found in story.findings.values()] == ["Heron", "Plover"]
    assert story.crew == {"captain": "Plover"}
    story.fold(
        SessionChanged(18.0, 1018.0, SessionChangeKind.SEAT_ASSIGNED, "nobody is named for Captain"), 19
    )
    assert story.crew == {}


def test_a_call_is_taken_back(story: EventFold) -> None:
    """The call that stood last is the one that is taken back."""
    for sim_s in (1.0, 2.0):
        story.fold(CallEntered(sim_s, "push_approved", "ground"), int(sim_s) + 1)
    story.fold(CallUndone(4.0, "push_approved", "instructor", 2.0), 5)
    assert [(call.at_s, call.undone_at_s) for call in story.calls] == [(1.0, None), (2.0, 4.0)]
    assert story.calls[0].title == "push approved"


def test_a_strip_begins_where_it_began(story: EventFold) -> None:
    """A strip kept after the jump began on the session's axis so long before it was kept as it lasted."""
    kept = TraceRecorded(
        12.0, "trace.start", "Start", 8.0, 12.0, TraceEnd.ENDED, (8.0, 12.0), (), (), (), (1,)
    )  # fmt: skip
    story.fold(kept, 38)
    (strip,) = story.traces
    assert strip.at_s == 32.0


def test_a_phase_that_the_pack_has_not(story: EventFold) -> None:
    """A phase that this pack does not know is told by its id."""
    story.fold(PhaseEntered(1.0, "gliding", ""), 2)
    assert (story.phases[0].title, story.phases[0].code) == ("gliding", "")
