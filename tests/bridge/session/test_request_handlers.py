"""Tests of bridge.session.request_handlers: the effect of each verb, and refusals without effect."""

from __future__ import annotations

from typing import get_args

import pytest

from bridge.runtime.device import PLAYBACK_VERBS
from bridge.session.call_register import UNDO_WINDOW_S
from bridge.session.request_handlers import _HANDLERS, MAX_NAME_LENGTH, MAX_REMARK_LENGTH, clean_text
from bridge.session.requests import VERB_MEANINGS, Request, Verb
from bridge.session.session import SessionState
from bridge.session.session_events import (
    KINDS,
    CourseChanged,
    RemarkAdded,
    SeatAssigned,
    SessionChange,
    SessionEnded,
    SessionEvent,
    SessionRenamed,
    SessionStarted,
    VoiceMuted,
    VoiceUnmuted,
)
from rules.faults import InputFaults
from rules.judge.events import WaiverBegun, WaiverUndone
from rules.packs.model import Pack
from tests.bridge.page.page_builders import PACK, FlownDevice, page_pack


@pytest.fixture(scope="module")
def paged(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """Load a pack with checklists, calls and an item to confirm."""
    return page_pack(tmp_path_factory.mktemp("packs") / "requests", PACK)


@pytest.fixture
def flown(paged: Pack) -> FlownDevice:
    """Give a device after its first frame."""
    device = FlownDevice(paged)
    device.frame(0.0)
    return device


def collect_events(flown: FlownDevice) -> list[SessionEvent]:
    """Return a list that collects the events from now on."""
    events: list[SessionEvent] = []
    flown.device.bus.subscribe(events.append, *KINDS)
    return events


def session_changes(events: list[SessionEvent]) -> list[SessionChange]:
    """Return the session changes among these events."""
    return [event for event in events if isinstance(event, SessionChange)]


def test_every_verb_has_a_handler() -> None:
    """Each verb of the control port has a handler; `start_session` and the playback verbs belong to the device."""
    assert set(VERB_MEANINGS) == set(_HANDLERS) | {"start_session", *PLAYBACK_VERBS} == set(get_args(Verb))


def test_a_remark_has_author_and_time(flown: FlownDevice) -> None:
    """A remark is published with both times, on one line, without characters that cannot be displayed."""
    events = collect_events(flown)
    assert flown.ask("remark", by="instructor", reason="late\n on the\tflaps \u202e").accepted
    assert events == [RemarkAdded(0.0, flown.wall(), "late on the flaps", "instructor")]


@pytest.mark.parametrize("text", ["", "   ", "\n\t", "\u202e\x00", "x" * (MAX_REMARK_LENGTH + 1)])
def test_an_empty_or_too_long_remark_is_refused(flown: FlownDevice, text: str) -> None:
    """The refusal has the reason, and nothing is published."""
    events = collect_events(flown)
    reply = flown.ask("remark", reason=text)
    assert not reply.accepted
    assert f"1 to {MAX_REMARK_LENGTH} characters" in reply.text
    assert events == []


def test_a_text_of_the_maximum_length_is_accepted() -> None:
    """The limit applies after cleaning, and a text of that length is valid."""
    assert clean_text("remark", " x" * 5 + " ", 9) == "x x x x x"
    with pytest.raises(InputFaults):
        clean_text("remark", "x" * 10, 9)


def test_an_item_can_be_waived_and_counts_again(flown: FlownDevice) -> None:
    """Both replies name the item; reasons are cleaned as remarks are, and the second one may be empty."""
    events = collect_events(flown)
    assert flown.ask("waive", "flow.before.beacon", "captain", " lamp\n failed ").text == "waived: Beacon"
    assert flown.ask("undo_waiver", "flow.before.beacon", "instructor", " ").text == "waiver undone: Beacon"
    assert [e for e in events if isinstance(e, WaiverBegun | WaiverUndone)] == [
        WaiverBegun(0.0, "flow.before.beacon", "lamp failed", "captain"),
        WaiverUndone(0.0, "flow.before.beacon", "", "instructor", 0.0),
    ]


@pytest.mark.parametrize(
    ("verb", "name", "reason", "words"),
    [
        ("waive", "flow.before.beacon", "x" * (MAX_REMARK_LENGTH + 1), "1 to 500 characters"),
        ("waive", "flow.before.beacon", " \n", "without a reason"),
        ("undo_waiver", "flow.before.beacon", "", "flow.before.beacon is not waived"),
        ("undo_waiver", "flow.before.becon", "", "did you mean flow.before.beacon?"),
        ("undo_waiver", "flow.before.logo", "", "waived by the trip sheet"),
    ],
)
def test_refused_waivers(flown: FlownDevice, verb: str, name: str, reason: str, words: str) -> None:
    """A refusal says why, and nothing is published."""
    events = collect_events(flown)
    reply = flown.ask(verb, name, "instructor", reason)
    assert not reply.accepted
    assert words in reply.text
    assert reply.text.startswith(verb.replace("_", "-"))
    assert events == []


def test_a_session_can_be_renamed(flown: FlownDevice) -> None:
    """A new name is published; a name that is too long is refused."""
    events = collect_events(flown)
    assert flown.ask("rename_session", "Morning", "instructor").accepted
    assert not flown.ask("rename_session", "x" * (MAX_NAME_LENGTH + 1)).accepted
    assert flown.device.session.name == "Morning"
    assert session_changes(events) == [SessionRenamed(0.0, flown.wall(), "Morning", "instructor")]


def test_seats_can_be_assigned_and_cleared(flown: FlownDevice) -> None:
    """A pseudonym is assigned to a seat, an empty one clears it; an unknown seat is refused with a hint."""
    events = collect_events(flown)
    assert flown.ask("assign_seat", "captain", "instructor", "Crew 7").text == "Captain: Crew 7"
    assert flown.device.session.crew == {"captain": "Crew 7"}
    refused = flown.ask("assign_seat", "captian", reason="Crew 7")
    assert "did you mean captain?" in refused.text
    assert flown.ask("assign_seat", "captain", "instructor", "  ").text == "Captain: nobody"
    assert flown.device.session.crew == {}
    assert session_changes(events) == [
        SeatAssigned(0.0, flown.wall(), "captain", "Crew 7", "instructor"),
        SeatAssigned(0.0, flown.wall(), "captain", None, "instructor"),
    ]


def test_a_course_can_be_set_and_emptied(flown: FlownDevice) -> None:
    """The event has the course, '' for none; a course may be called none."""
    events = collect_events(flown)
    replies = [flown.ask("set_course", course, "instructor").text for course in ("Course 12", "none", " ")]
    assert replies == ["course: Course 12", "course: none", "no course"]
    assert session_changes(events) == [
        CourseChanged(0.0, flown.wall(), course, "instructor") for course in ("Course 12", "none", "")
    ]


def test_a_paused_session_judges_nothing(flown: FlownDevice) -> None:
    """Frames are not judged during a pause; a second pause and a resume without pause are refused."""
    assert not flown.ask("resume").accepted
    assert flown.ask("pause").accepted
    flown.frame(1.0, {"lights.beacon": "off"})
    assert flown.device.session.snapshot().sim_s == 0.0
    assert not flown.ask("pause").accepted
    assert flown.ask("resume").accepted
    flown.frame(2.0)
    assert flown.device.session.snapshot().sim_s == 2.0


@pytest.mark.parametrize(
    "verb",
    ["call", "confirm", "waive", "undo_waiver", "undo_call", "amend", "start_checklist", "pause", "end"],
)
def test_after_the_end_requests_are_refused(flown: FlownDevice, verb: str) -> None:
    """These verbs are refused once the session has ended."""
    assert flown.ask("end", by="instructor").accepted
    reply = flown.ask(verb, "clearance", "instructor", "reason")
    assert not reply.accepted
    assert "ended" in reply.text
    assert flown.device.session.state is SessionState.ENDED


def test_a_remark_is_accepted_after_the_end(flown: FlownDevice) -> None:
    """The instructor can still add a remark and rename the session after the end."""
    flown.ask("end")
    assert flown.ask("remark", reason="good flight").accepted
    assert flown.ask("rename_session", "Done").accepted


def test_mute_and_unmute_are_published(flown: FlownDevice) -> None:
    """Muting and unmuting change the session, and each is an event."""
    events = collect_events(flown)
    muted = []
    for verb in ("mute", "unmute"):
        flown.ask(verb, by="instructor")
        muted.append(flown.device.session.muted)
    assert muted == [True, False]
    assert [type(change) for change in session_changes(events)] == [VoiceMuted, VoiceUnmuted]


def test_a_call_can_be_undone_within_its_window(flown: FlownDevice) -> None:
    """A call can be undone for 10 s of real time; later it is refused, and the call remains."""
    flown.ask("call", "clearance", "atc")
    flown.wall.now_s += UNDO_WINDOW_S - 1
    assert flown.ask("undo_call", "clearance", "atc").text == "call undone: departure clearance"
    assert flown.device.session.call_register.latest("clearance") is None
    flown.ask("call", "clearance", "atc")
    flown.wall.now_s += UNDO_WINDOW_S
    refused_late = flown.ask("undo_call", "clearance", "atc")
    assert not refused_late.accepted
    assert "more than 10 s ago" in refused_late.text
    assert flown.device.session.call_register.latest("clearance") is not None
    assert "clearance" in flown.device.session.snapshot().calls


def test_a_call_that_was_not_entered_cannot_be_undone(flown: FlownDevice) -> None:
    """An unknown call and a call that was not entered have different messages."""
    assert "did you mean clearance?" in flown.ask("undo_call", "clearence").text
    assert not flown.ask("undo_call", "clearance").accepted


def test_a_call_before_the_first_frame_can_be_undone(paged: Pack) -> None:
    """A call that is undone before the first frame never counts."""
    early = FlownDevice(paged)
    assert early.ask("call", "clearance", "atc").accepted
    assert early.ask("undo_call", "clearance", "atc").accepted
    early.frame(0.0)
    assert early.device.journal.calls == []
    assert early.device.session.call_register.latest("clearance") is None


def test_a_checklist_can_be_started_left_open_and_closed(flown: FlownDevice) -> None:
    """It starts at the first line, and a line can be left open; without a running checklist both verbs are refused."""
    assert not flown.ask("leave_open").accepted
    assert not flown.ask("close_checklist").accepted
    assert "did you mean before?" in flown.ask("start_checklist", "befor").text
    assert flown.ask("start_checklist", "before").text == "reading: Before push"
    assert flown.ask("leave_open").text == "left open: Beacon"
    for _ in range(3):
        flown.ask("leave_open")
    assert not flown.ask("leave_open").accepted
    assert flown.ask("close_checklist").text == "checklist closed: Before push"
    assert flown.device.session.checklist_run is None


def test_a_new_session_starts_empty(flown: FlownDevice) -> None:
    """A new session ends the present one, adds it to the past ones, and starts without calls, findings and seats."""
    flown.ask("call", "clearance", "atc")
    flown.ask("assign_seat", "captain", reason="Crew 7")
    events = collect_events(flown)
    assert flown.ask("start_session", "", "instructor").text == "started: Session 2"
    session = flown.device.session
    assert (session.name, session.crew, session.call_register.latest("clearance")) == ("Session 2", {}, None)
    assert flown.device.journal.calls == []
    assert [past.name for past in flown.device.past_sessions] == ["Session 1"]
    assert [type(change) for change in session_changes(events)] == [SessionEnded, SessionStarted]


def test_a_session_cannot_start_with_an_invalid_name(flown: FlownDevice) -> None:
    """A name that is too long is refused before the present session is ended; another one is cleaned."""
    before = flown.device.session
    assert not flown.device.handle(Request("start_session", "x" * (MAX_NAME_LENGTH + 1))).accepted
    assert before.state is SessionState.RUNNING
    assert flown.device.handle(Request("start_session", "a\n\u202eb")).accepted
    assert flown.device.session.name == "a b"
