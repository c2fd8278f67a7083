"""Handles the requests of the crew and the instructor to a session, verb by verb.

Takes: a session and a request.  Gives: a reply with one sentence: the effect, or why the request is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable

from bridge.session.call_register import UNDO_WINDOW_S
from bridge.session.change_text import NOBODY
from bridge.session.checklist_run import ChecklistRun
from bridge.session.requests import Reply, Request, command_of
from bridge.session.session import Session, SessionState
from bridge.session.session_events import (
    CourseChanged,
    SeatAssigned,
    SessionEnded,
    SessionPaused,
    SessionRenamed,
    SessionResumed,
    VoiceMuted,
    VoiceUnmuted,
)
from bridge.session.trip_update import changed_values, describe_changes
from rules.faults import Fault, InputFaults, Place
from rules.source import unknown_fault
from rules.words import join_and, printable_line

MAX_NAME_LENGTH = 60
MAX_REMARK_LENGTH = 500
_NEED_UNENDED_SESSION = (
    "call",
    "confirm",
    "waive",
    "undo_waiver",
    "undo_call",
    "amend",
    "start_checklist",
    "pause",
)
"""Verbs that are refused once the session has ended."""


def handle_request(session: Session, request: Request) -> Reply:
    """Apply a request; a refused request leaves the session unchanged."""
    with session.processing_input(request):
        try:
            if session.state is SessionState.ENDED and request.verb in _NEED_UNENDED_SESSION:
                raise refusal(request.verb, "this session has ended", "a running session", "start a new one")
            return Reply(accepted=True, text=_HANDLERS[request.verb](session, request))
        except InputFaults as faults:
            return Reply(accepted=False, text=str(faults))


def refusal(verb: str, what: str, expected: str, hint: str = "") -> InputFaults:
    """Make the fault that refuses a request."""
    return InputFaults([Fault(Place(command_of(verb)), what, expected, hint)])


def clean_text(verb: str, text: str, max_length: int) -> str:
    """Remove unprintable characters and repeated spaces from a typed text.

    Raises:
        InputFaults: the text is then empty, or too long.
    """
    clean = printable_line(text)
    if not clean or len(clean) > max_length:
        what = f"{len(clean)} characters are too many" if clean else "the text is empty"
        raise refusal(verb, what, f"1 to {max_length} characters")
    return clean


def _checked_name(verb: str, what: str, name: str, known_names: Iterable[str]) -> str:
    known = list(known_names)
    if name not in known:
        raise InputFaults(
            [unknown_fault(Place(command_of(verb)), what, name, known, f"a {what} of the pack")]
        )
    return name


def _enter_call(session: Session, request: Request) -> str:
    entries = session.judge.enter_call(request.name, request.by)
    if not entries:
        session.call_register.add_pending(request.name, request.by)
    session.publish(entries)
    return f"call entered: {_call_title(session, request.name)}"


def _call_title(session: Session, name: str) -> str:
    return session.pack.calls[name].title


def _labels(session: Session, ids: Collection[str]) -> str:
    """Labels of items, in the pack's order."""
    return join_and(item.label for item in session.pack.items.values() if item.id in ids)


def _confirm_item(session: Session, request: Request) -> str:
    session.publish(session.judge.confirm(request.name, request.by))
    return f"confirmed: {_labels(session, [request.name])}"


def _waive_item(session: Session, request: Request) -> str:
    before = _waived(session)
    reason = _clean_reason(request)
    session.publish(session.judge.waive(request.name, request.by, reason))
    return f"waived: {_labels(session, _waived(session) - before)}"


def _undo_waiver(session: Session, request: Request) -> str:
    before = _waived(session)
    session.publish(session.judge.undo_waiver(request.name, request.by, _clean_reason(request)))
    return f"waiver undone: {_labels(session, before - _waived(session))}"


def _clean_reason(request: Request) -> str:
    """Clean the reason of a waiver as a remark is cleaned; the judge decides whether it may be empty."""
    blank = not request.reason.strip()
    return "" if blank else clean_text(request.verb, request.reason, MAX_REMARK_LENGTH)


def _waived(session: Session) -> set[str]:
    """Ids of the items that are waived now; of an item with a `*` a request may change some matches only."""
    return {item.id for item in session.current_snapshot().items.values() if item.waiver}


def _undo_call(session: Session, request: Request) -> str:
    made = session.call_register.latest(request.name)
    if made is not None and not session.call_register.undo_left_s(request.name):
        what = f"{_call_title(session, request.name)} was entered more than {UNDO_WINDOW_S:.0f} s ago"
        raise refusal(
            "undo_call", what, "a recent call", "write a remark on the page, in the view Instructor"
        )
    entries = session.judge.undo_call(request.name, request.by)
    if not entries:
        session.call_register.drop_pending(request.name)
    session.publish(entries)
    return f"call undone: {_call_title(session, request.name)}"


def _amend_trip(session: Session, request: Request) -> str:
    """Update the trip values: `reason` has the text of the sheet, `name` the name of its file."""
    changed = changed_values(session.pack, session.trip_values, request.reason, request.name or "trip sheet")
    if changed:
        session.publish(session.judge.update_trip(changed, request.by))
    return describe_changes(changed)


def _add_remark(session: Session, request: Request) -> str:
    session.add_remark(clean_text("remark", request.reason, MAX_REMARK_LENGTH), request.by)
    return "remark recorded"


def _rename_session(session: Session, request: Request) -> str:
    session.name = clean_text("rename_session", request.name, MAX_NAME_LENGTH)
    session.publish([SessionRenamed(*session.event_times(), session.name, request.by)])
    return f"session renamed: {session.name}"


def _set_course(session: Session, request: Request) -> str:
    session.course = clean_text("set_course", request.name, MAX_NAME_LENGTH) if request.name.strip() else ""
    session.publish([CourseChanged(*session.event_times(), session.course, request.by)])
    return f"course: {session.course}" if session.course else "no course"


def _assign_seat(session: Session, request: Request) -> str:
    seats = session.pack.seats
    seat = _checked_name("assign_seat", "seat", request.name, seats)
    person = clean_text("assign_seat", request.reason, MAX_NAME_LENGTH) if request.reason.strip() else None
    if person is None:
        session.crew.pop(seat, None)
    else:
        session.crew[seat] = person
    session.publish([SeatAssigned(*session.event_times(), seat, person, request.by)])
    return f"{seats[seat]}: {person or NOBODY}"


def _pause_session(session: Session, request: Request) -> str:
    if session.state is not SessionState.RUNNING:
        raise refusal("pause", f"this session is {session.state}", "a running session")
    session.state = SessionState.PAUSED
    session.publish([SessionPaused(*session.event_times(), request.reason, request.by)])
    return "paused; nothing is judged until the session is resumed"


def _resume_session(session: Session, request: Request) -> str:
    if session.state is not SessionState.PAUSED:
        raise refusal("resume", f"this session is {session.state}", "a paused session")
    session.state = SessionState.RUNNING
    session.publish([SessionResumed(*session.event_times(), request.reason, request.by)])
    return "resumed"


def _end_session(session: Session, request: Request) -> str:
    if session.state is SessionState.ENDED:
        raise refusal("end", "this session has already ended", "a running or paused session")
    session.publish([SessionEnded(*session.event_times(), request.reason, request.by)])
    session.state = SessionState.ENDED
    return "ended"


def _mute(session: Session, request: Request) -> str:
    session.muted = True
    session.publish([VoiceMuted(*session.event_times(), request.reason, request.by)])
    return "muted"


def _unmute(session: Session, request: Request) -> str:
    session.muted = False
    session.publish([VoiceUnmuted(*session.event_times(), request.reason, request.by)])
    return "unmuted"


def _start_checklist(session: Session, request: Request) -> str:
    lists = session.pack.checklists
    found = lists[_checked_name("start_checklist", "checklist", request.name, lists)]
    session.checklist_run = ChecklistRun(found, session.item_satisfied, session.now_s)
    return f"reading: {found.title}"


def _leave_line_open(session: Session, request: Request) -> str:
    if session.checklist_run is None or session.checklist_run.line is None:
        raise refusal(request.verb, "no checklist is open", "an open checklist")
    challenge = session.checklist_run.line.challenge
    session.checklist_run.leave_open(session.now_s)
    return f"left open: {challenge}"


def _close_checklist(session: Session, request: Request) -> str:
    if session.checklist_run is None:
        raise refusal(request.verb, "no checklist is open", "an open checklist")
    title, session.checklist_run = session.checklist_run.checklist.title, None
    return f"checklist closed: {title}"


_HANDLERS: dict[str, Callable[[Session, Request], str]] = {
    "call": _enter_call,
    "confirm": _confirm_item,
    "waive": _waive_item,
    "undo_waiver": _undo_waiver,
    "undo_call": _undo_call,
    "amend": _amend_trip,
    "remark": _add_remark,
    "rename_session": _rename_session,
    "set_course": _set_course,
    "assign_seat": _assign_seat,
    "pause": _pause_session,
    "resume": _resume_session,
    "end": _end_session,
    "mute": _mute,
    "unmute": _unmute,
    "start_checklist": _start_checklist,
    "leave_open": _leave_line_open,
    "close_checklist": _close_checklist,
}
