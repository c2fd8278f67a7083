"""What of a session goes into the store: the lines of a spool.

Each line stands for itself: it holds what the pack says of it (titles, the class of an error), since whoever puts it into
the store later may not have the pack.

Takes: nothing.  Gives: `Line`, and as msgspec structs what it may say.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import msgspec

from bridge.notes import Remarked, SessionNoted
from bridge.passages import Passage
from bridge.record.form import Head
from bridge.threat_error import ErrorClass
from rules.judge.entries import CallRetracted, Finding, Notice, StripKept, TimeNoted


class Begun(msgspec.Struct, frozen=True, tag="begun"):
    """A session began.  `seats` has their titles; `recording` is the name of its recording, '' where there is none."""

    head: Head = msgspec.field(name="head")
    seats: dict[str, str] = msgspec.field(name="seats")
    recording: str = msgspec.field(default="", name="recording")


class Phased(msgspec.Struct, frozen=True, tag="phase"):
    """A phase was entered."""

    sim_s: float = msgspec.field(name="sim_s")
    phase: str = msgspec.field(name="phase")
    title: str = msgspec.field(name="title")
    code: str = msgspec.field(name="code")


class Found(msgspec.Struct, frozen=True, tag="finding"):
    """A finding as it stands now."""

    finding: Finding = msgspec.field(name="finding")
    error_class: ErrorClass = msgspec.field(name="error_class")


class Noticed(msgspec.Struct, frozen=True, tag="notice"):
    """The crew was told something."""

    notice: Notice = msgspec.field(name="notice")


class Called(msgspec.Struct, frozen=True, tag="call"):
    """Somebody said something that no signal shows."""

    sim_s: float = msgspec.field(name="sim_s")
    call: str = msgspec.field(name="call")
    title: str = msgspec.field(name="title")
    by: str = msgspec.field(name="by")


class TakenBack(msgspec.Struct, frozen=True, tag="taken back"):
    """A call was taken back."""

    call: CallRetracted = msgspec.field(name="call")


class Passed(msgspec.Struct, frozen=True, tag="gate"):
    """A gate as it stands now."""

    passage: Passage = msgspec.field(name="passage")


class Stripped(msgspec.Struct, frozen=True, tag="strip"):
    """Quantities over a stretch of flight."""

    strip: StripKept = msgspec.field(name="strip")


class Timed(msgspec.Struct, frozen=True, tag="time"):
    """The aeroplane was out, off, on or in."""

    time: TimeNoted = msgspec.field(name="time")


class Seated(msgspec.Struct, frozen=True, tag="seat"):
    """Who sits in a seat from now on; `person` is '' where nobody is named."""

    sim_s: float = msgspec.field(name="sim_s")
    seat: str = msgspec.field(name="seat")
    person: str = msgspec.field(name="person")


class Titled(msgspec.Struct, frozen=True, tag="title"):
    """What the session is called now, and which course it belongs to."""

    name: str = msgspec.field(name="name")
    course: str = msgspec.field(name="course")


class Noted(msgspec.Struct, frozen=True, tag="note"):
    """Something happened to the session."""

    note: SessionNoted = msgspec.field(name="note")


class Written(msgspec.Struct, frozen=True, tag="remark"):
    """Somebody wrote a remark."""

    remark: Remarked = msgspec.field(name="remark")


class Closed(msgspec.Struct, frozen=True, tag="closed"):
    """The session ended in good order."""


What: TypeAlias = (
    Begun
    | Phased
    | Found
    | Noticed
    | Called
    | TakenBack
    | Passed
    | Stripped
    | Timed
    | Seated
    | Titled
    | Noted
    | Written
    | Closed
)


class Line(msgspec.Struct, frozen=True):
    """One line: `number` counts from 1 in a session, `utc` is when it was judged, in seconds since 1970."""

    number: int = msgspec.field(name="number")
    utc: float = msgspec.field(name="utc")
    what: What = msgspec.field(name="what")


_DECODER = msgspec.json.Decoder(Line)


def decode(data: bytes) -> Line:
    """One line from JSON.

    Raises:
        msgspec.MsgspecError: It is none.
    """
    return _DECODER.decode(data)


def plain(what: Any) -> Any:  # noqa: ANN401 - any plain data
    """Something as plain data, for a column of JSON."""
    return msgspec.to_builtins(what, str_keys=True)
