"""Tests of bridge.session.request_handlers: the effect of each verb, and refusals that change nothing."""

from __future__ import annotations

from typing import get_args

import pytest

from bridge.runtime.device import PLAYBACK_VERBS
from bridge.session.call_register import UNDO_WINDOW_S
from bridge.session.request_handlers import _HANDLERS, MAX_NAME_LENGTH, MAX_REMARK_LENGTH, clean_text
from bridge.session.requests import VERB_MEANINGS, Request, Verb
from bridge.session.session import SessionState
from bridge.session.session_events import RemarkAdded, SessionChanged, SessionChangeKind, SessionEvent
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.page.page_builders import PACK, FlownDevice, page_pack


@pytest.fixture(scope="module")
def paged(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """A pack with checklists, calls and something to confirm."""
    return page_pack(tmp_path_factory.mktemp("packs") / "asked", PACK)


@pytest.fixture
def flown(paged: Pack) -> FlownDevice:
    """A device after its first frame."""
    one = FlownDevice(paged)
    one.frame(0.0)
    return one


def heard(flown: FlownDevice) -> list[SessionEvent]:
    """Collect the events from now on."""
    told: list[SessionEvent] = []
    flown.device.add_listener(told.append)
    return told


def notes(told: list[SessionEvent]) -> list[tuple[SessionChangeKind, str, str]]:
    """The session's notes among it."""
    return [(one.change, one.text, one.by) for one in told if isinstance(one, SessionChanged)]


def test_every_verb_that_may_be_asked_is_done_by_somebody() -> None:
    """Each verb of the control port has a handler; `start_session` and the playback verbs belong to the device."""
    assert set(VERB_MEANINGS) == set(_HANDLERS) | {"start_session", *PLAYBACK_VERBS} == set(get_args(Verb))


def test_a_remark_is_kept_with_who_and_when(flown: FlownDevice) -> None:
    """A remark reaches the listeners with both times, on one line, without what no screen can show."""
    told = heard(flown)
    assert flown.ask("remark", by="instructor", reason="late\n on the\tflaps \u202e").accepted
    assert told == [RemarkAdded(0.0, flown.wall(), "late on the flaps", "instructor")]


@pytest.mark.parametrize("text", ["", "   ", "\n\t", "\u202e\x00", "x" * (MAX_REMARK_LENGTH + 1)])
def test_a_remark_of_nothing_or_too_much_is_refused(flown: FlownDevice, text: str) -> None:
    """An empty or too long remark is refused with the reason."""
    told = heard(flown)
    reply = flown.ask("remark", reason=text)
    assert not reply.accepted
    assert f"1 to {MAX_REMARK_LENGTH} characters" in reply.text
    assert told == []


def test_the_longest_text_is_taken() -> None:
    """The limit itself is still good, counted after cleaning."""
    assert clean_text("remark", " x" * 5 + " ", 9) == "x x x x x"
    with pytest.raises(InputFaults):
        clean_text("remark", "x" * 10, 9)


def test_a_session_is_named(flown: FlownDevice) -> None:
    """A new name is published; a name that is too long is refused."""
    told = heard(flown)
    assert flown.ask("rename_session", "Morning", "instructor").accepted
    assert not flown.ask("rename_session", "x" * (MAX_NAME_LENGTH + 1)).accepted
    assert flown.device.session.name == "Morning"
    assert notes(told) == [(SessionChangeKind.NAMED, "Morning", "instructor")]


def test_seats_are_taken_and_left(flown: FlownDevice) -> None:
    """A pseudonym is assigned to a seat, an empty one clears it; an unknown seat is refused with a hint."""
    told = heard(flown)
    assert flown.ask("assign_seat", "captain", "instructor", "Crew 7").text == "Captain: Crew 7"
    assert flown.device.session.crew == {"captain": "Crew 7"}
    refused = flown.ask("assign_seat", "captian", reason="Crew 7")
    assert "did you mean captain?" in refused.text
    assert flown.ask("assign_seat", "captain", "instructor", "  ").text == "Captain: nobody"
    assert flown.device.session.crew == {}
    assert [change for change, _, _ in notes(told)] == [
        SessionChangeKind.SEAT_ASSIGNED,
        SessionChangeKind.SEAT_ASSIGNED,
    ]


def test_paused_nothing_is_judged_until_it_is_resumed(flown: FlownDevice) -> None:
    """A paused session judges no frames; pausing twice or resuming a running session is refused."""
    assert not flown.ask("resume").accepted
    assert flown.ask("pause").accepted
    flown.frame(1.0, {"lights.beacon": "off"})
    assert flown.device.session.judge.context.sim_s == 0.0
    assert not flown.ask("pause").accepted
    assert flown.ask("resume").accepted
    flown.frame(2.0)
    assert flown.device.session.judge.context.sim_s == 2.0


@pytest.mark.parametrize(
    "verb", ["call", "confirm", "waive", "undo_call", "amend", "start_checklist", "pause", "end"]
)
def test_after_the_end_nothing_changes_any_more(flown: FlownDevice, verb: str) -> None:
    """After the end these verbs are refused."""
    assert flown.ask("end", by="instructor").accepted
    reply = flown.ask(verb, "clearance", "instructor", "reason")
    assert not reply.accepted
    assert "ended" in reply.text
    assert flown.device.session.state is SessionState.ENDED


def test_a_remark_may_follow_the_end(flown: FlownDevice) -> None:
    """The instructor may still write and name after the end."""
    flown.ask("end")
    assert flown.ask("remark", reason="good flight").accepted
    assert flown.ask("rename_session", "Done").accepted


def test_silence_and_hearing_are_noted(flown: FlownDevice) -> None:
    """Speech is silenced and let go on, each with a note."""
    told = heard(flown)
    silenced = []
    for verb in ("mute", "unmute"):
        flown.ask(verb, by="instructor")
        silenced.append(flown.device.session.muted)
    assert silenced == [True, False]
    assert [change for change, _, _ in notes(told)] == [SessionChangeKind.MUTED, SessionChangeKind.UNMUTED]


def test_a_call_is_taken_back_within_its_time(flown: FlownDevice) -> None:
    """A call can be undone for 10 s of real time; later it is refused, and the call remains."""
    flown.ask("call", "clearance", "atc")
    flown.wall.now_s += UNDO_WINDOW_S - 1
    assert flown.ask("undo_call", "clearance", "atc").text == "call undone: departure clearance"
    assert flown.device.session.call_register.latest("clearance") is None
    flown.ask("call", "clearance", "atc")
    flown.wall.now_s += UNDO_WINDOW_S
    late = flown.ask("undo_call", "clearance", "atc")
    assert not late.accepted
    assert "more than 10 s ago" in late.text
    assert flown.device.session.call_register.latest("clearance") is not None
    assert "clearance" in flown.device.session.judge.context.phase_of_call


def test_a_call_that_was_not_made_cannot_be_taken_back(flown: FlownDevice) -> None:
    """An unknown call and a call that was not entered have different messages."""
    assert "did you mean clearance?" in flown.ask("undo_call", "clearence").text
    assert not flown.ask("undo_call", "clearance").accepted


def test_a_call_before_the_first_frame_is_taken_back_too(paged: Pack) -> None:
    """A call that is undone before the first frame never counts."""
    early = FlownDevice(paged)
    assert early.ask("call", "clearance", "atc").accepted
    assert early.ask("undo_call", "clearance", "atc").accepted
    early.frame(0.0)
    assert early.device.journal.calls == []
    assert early.device.session.call_register.latest("clearance") is None


def test_a_checklist_is_read_left_open_and_put_away(flown: FlownDevice) -> None:
    """Reading starts at the first line; a line can be left open; without an open checklist both are refused."""
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


def test_the_next_session_begins_with_nothing_of_the_last(flown: FlownDevice) -> None:
    """A new session ends the present one, adds it to the past ones, and starts without calls, findings and seats."""
    flown.ask("call", "clearance", "atc")
    flown.ask("assign_seat", "captain", reason="Crew 7")
    told = heard(flown)
    assert flown.ask("start_session", "", "instructor").text == "started: Session 2"
    session = flown.device.session
    assert (session.name, session.crew, session.call_register.latest("clearance")) == ("Session 2", {}, None)
    assert flown.device.journal.calls == []
    assert [past.name for past in flown.device.past_sessions] == ["Session 1"]
    assert [change for change, _, _ in notes(told)] == [SessionChangeKind.ENDED, SessionChangeKind.STARTED]


@pytest.mark.parametrize("name", ["x" * (MAX_NAME_LENGTH + 1), "a\nb", "a\u202eb"])
def test_a_session_cannot_begin_under_a_name_that_no_screen_can_show(flown: FlownDevice, name: str) -> None:
    """A bad name is refused before the present session is ended."""
    reply = flown.device.handle(Request("start_session", name))
    assert not reply.accepted
    assert flown.device.session.state is SessionState.RUNNING
