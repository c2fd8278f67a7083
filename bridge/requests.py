"""What the crew and the instructor may ask of a session, verb by verb.

Takes: a session and a request.  Gives: a reply: one sentence that says what was done, or why it was not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from bridge.amending import differing, said_of
from bridge.control import Reply, Request
from bridge.notes import Change
from bridge.reading import Reading
from bridge.session import Session, Standing
from bridge.spoken import TAKE_BACK_S
from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean

LONGEST_NAME = 60
LONGEST_REMARK = 500
_LIVE = ("call", "confirm", "excuse", "retract", "amend", "read", "pause")
"""What makes no sense once a session has ended."""


def grant(session: Session, request: Request) -> Reply:
    """Do what was asked, or say why not; the session is then as it was."""
    with session.heeding(request):
        try:
            if session.standing is Standing.ENDED and request.verb in _LIVE:
                raise refused(
                    request.verb, "this session has ended", "a session that runs", "begin a new one"
                )
            return Reply(done=True, text=_VERBS[request.verb](session, request))
        except InputFaults as faults:
            return Reply(done=False, text=str(faults))


def refused(verb: str, what: str, expected: str, hint: str = "") -> InputFaults:
    """Why something asked cannot be done."""
    return InputFaults([Fault(Place(verb), what, expected, hint)])


def text_of(verb: str, text: str, longest: int) -> str:
    """A text that a person typed, without what no screen can show.

    Raises:
        InputFaults: nothing is left of it, or it is too long.
    """
    clean = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if not clean or len(clean) > longest:
        what = f"{len(clean)} characters are too many" if clean else "nothing is written"
        raise refused(verb, what, f"1 to {longest} characters")
    return clean


def _known(verb: str, what: str, name: str, among: Iterable[str]) -> str:
    known = list(among)
    if name not in known:
        raise refused(verb, f"unknown {what} {name}", f"a {what} of the pack", did_you_mean(name, known))
    return name


def _call(session: Session, request: Request) -> str:
    entries = session.core.call(request.name, request.by)
    if not entries:
        session.spoken.early(request.name, request.by)
    session.tell(entries)
    return f"call entered: {_call_title(session, request.name)}"


def _call_title(session: Session, name: str) -> str:
    return session.core.session.pack.calls[name].title


def _item_label(session: Session, name: str) -> str:
    return session.core.session.pack.items[name].label


def _confirm(session: Session, request: Request) -> str:
    session.tell(session.core.confirm(request.name, request.by))
    return f"confirmed: {_item_label(session, request.name)}"


def _excuse(session: Session, request: Request) -> str:
    session.tell(session.core.excuse(request.name, request.by, request.reason))
    return f"excused: {_item_label(session, request.name)}"


def _retract(session: Session, request: Request) -> str:
    made = session.spoken.latest(request.name)
    if made is not None and not session.spoken.left_s(request.name):
        what = f"{_call_title(session, request.name)} was made more than {TAKE_BACK_S:.0f} s ago"
        raise refused("retract", what, "a call that was just made", "enter a remark instead")
    entries = session.core.retract(request.name, request.by)
    if not entries:
        session.spoken.forget_early(request.name)
    session.tell(entries)
    return f"call taken back: {_call_title(session, request.name)}"


def _amend(session: Session, request: Request) -> str:
    """The sheet's text is in `reason`, the name of its file in `name`."""
    changed = differing(session.core, request.reason, request.name or "trip sheet")
    if changed:
        session.tell(session.core.amend(changed, request.by))
    return said_of(changed)


def _remark(session: Session, request: Request) -> str:
    session.remark(text_of("remark", request.reason, LONGEST_REMARK), request.by)
    return "remark kept"


def _name(session: Session, request: Request) -> str:
    session.name = text_of("name", request.name, LONGEST_NAME)
    session.note(Change.NAMED, session.name, request.by)
    return f"this session is called {session.name}"


def _course(session: Session, request: Request) -> str:
    session.course = text_of("course", request.name, LONGEST_NAME) if request.name.strip() else ""
    session.note(Change.COURSE, session.course or "none", request.by)
    return (
        f"this session belongs to {session.course}" if session.course else "this session belongs to no course"
    )


def _seat(session: Session, request: Request) -> str:
    seats = session.core.session.pack.seats
    seat = _known("seat", "seat", request.name, seats)
    if not request.reason.strip():
        session.crew.pop(seat, None)
        session.note(Change.SEATED, f"nobody is named for {seats[seat]}", request.by)
        return f"{seats[seat]}: nobody"
    session.crew[seat] = who = text_of("seat", request.reason, LONGEST_NAME)
    session.note(Change.SEATED, f"{seats[seat]}: {who}", request.by)
    return f"{seats[seat]}: {who}"


def _pause(session: Session, request: Request) -> str:
    if session.standing is not Standing.RUNNING:
        raise refused("pause", f"this session is {session.standing}", "one that runs")
    session.standing = Standing.PAUSED
    session.note(Change.PAUSED, request.reason, request.by)
    return "paused; nothing is judged until it is resumed"


def _resume(session: Session, request: Request) -> str:
    if session.standing is not Standing.PAUSED:
        raise refused("resume", f"this session is {session.standing}", "one that is paused")
    session.standing = Standing.RUNNING
    session.note(Change.RESUMED, request.reason, request.by)
    return "going on"


def _end(session: Session, request: Request) -> str:
    if session.standing is Standing.ENDED:
        raise refused("end", "this session has ended already", "one that runs or is paused")
    session.note(Change.ENDED, request.reason, request.by)
    session.standing = Standing.ENDED
    return "ended"


def _silence(session: Session, request: Request) -> str:
    session.silenced = True
    session.note(Change.SILENCED, request.reason, request.by)
    return "nothing is spoken until it is let speak again"


def _hear(session: Session, request: Request) -> str:
    session.silenced = False
    session.note(Change.HEARD, request.reason, request.by)
    return "speaking again"


def _read(session: Session, request: Request) -> str:
    lists = session.core.session.pack.checklists
    found = lists[_known("read", "checklist", request.name, lists)]
    session.reading = Reading(found, session.life, session.now_s)
    return f"reading: {found.title}"


def _leave_open(session: Session, request: Request) -> str:
    if session.reading is None or session.reading.line is None:
        raise refused(request.verb, "no checklist is being read", "one that is")
    challenge = session.reading.line.challenge
    session.reading.leave_open(session.now_s)
    return f"left open: {challenge}"


def _put_away(session: Session, request: Request) -> str:
    if session.reading is None:
        raise refused(request.verb, "no checklist is being read", "one that is")
    title, session.reading = session.reading.checklist.title, None
    return f"put away: {title}"


_VERBS: dict[str, Callable[[Session, Request], str]] = {
    "call": _call,
    "confirm": _confirm,
    "excuse": _excuse,
    "retract": _retract,
    "amend": _amend,
    "remark": _remark,
    "name": _name,
    "course": _course,
    "seat": _seat,
    "pause": _pause,
    "resume": _resume,
    "end": _end,
    "silence": _silence,
    "hear": _hear,
    "read": _read,
    "leave_open": _leave_open,
    "put_away": _put_away,
}
