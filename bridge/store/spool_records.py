"""What of a session goes into the store: the lines of a spool.

Each line stands for itself: it holds what the pack says of it (titles, the class of an error), since whoever puts it into
the store later may not have the pack.

Takes: nothing.  Gives: `Line`, and as msgspec structs what it may say.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import msgspec

from bridge.recording.file_format import RecordingHead
from bridge.session.gate_stats import GatePassage
from bridge.session.session_events import RemarkAdded, SessionChanged
from bridge.session.threat_error import ErrorClass
from rules.judge.events import CallUndone, Finding, FlightTimeRecorded, Notice, TraceRecorded


class SessionBegunRecord(msgspec.Struct, frozen=True, tag="begun"):
    """A session began.  `seats` has their titles; `recording` is the name of its recording, '' where there is none."""

    head: RecordingHead = msgspec.field(name="head")
    seats: dict[str, str] = msgspec.field(name="seats")
    recording: str = msgspec.field(default="", name="recording")


class PhaseRecord(msgspec.Struct, frozen=True, tag="phase"):
    """A phase was entered."""

    sim_s: float = msgspec.field(name="sim_s")
    phase: str = msgspec.field(name="phase")
    title: str = msgspec.field(name="title")
    code: str = msgspec.field(name="code")


class FindingRecord(msgspec.Struct, frozen=True, tag="finding"):
    """A finding as it stands now."""

    finding: Finding = msgspec.field(name="finding")
    error_class: ErrorClass = msgspec.field(name="error_class")


class NoticeRecord(msgspec.Struct, frozen=True, tag="notice"):
    """The crew was told something."""

    notice: Notice = msgspec.field(name="notice")


class CallRecord(msgspec.Struct, frozen=True, tag="call"):
    """Somebody said something that no signal shows."""

    sim_s: float = msgspec.field(name="sim_s")
    call: str = msgspec.field(name="call")
    title: str = msgspec.field(name="title")
    by: str = msgspec.field(name="by")


class CallUndoneRecord(msgspec.Struct, frozen=True, tag="call undone"):
    """A call was taken back."""

    call: CallUndone = msgspec.field(name="call")


class GatePassageRecord(msgspec.Struct, frozen=True, tag="gate"):
    """A gate as it stands now."""

    passage: GatePassage = msgspec.field(name="passage")


class TraceRecord(msgspec.Struct, frozen=True, tag="trace"):
    """Quantities over a stretch of flight."""

    trace: TraceRecorded = msgspec.field(name="trace")


class FlightTimeRecord(msgspec.Struct, frozen=True, tag="time"):
    """The aeroplane was out, off, on or in."""

    time: FlightTimeRecorded = msgspec.field(name="time")


class SeatRecord(msgspec.Struct, frozen=True, tag="seat"):
    """Who sits in a seat from now on; `person` is '' where nobody is named."""

    sim_s: float = msgspec.field(name="sim_s")
    seat: str = msgspec.field(name="seat")
    person: str = msgspec.field(name="person")


class TitleRecord(msgspec.Struct, frozen=True, tag="title"):
    """What the session is called now, and which course it belongs to."""

    name: str = msgspec.field(name="name")
    course: str = msgspec.field(name="course")


class SessionEventRecord(msgspec.Struct, frozen=True, tag="event"):
    """Something happened to the session."""

    event: SessionChanged = msgspec.field(name="event")


class RemarkRecord(msgspec.Struct, frozen=True, tag="remark"):
    """Somebody wrote a remark."""

    remark: RemarkAdded = msgspec.field(name="remark")


class SessionClosedRecord(msgspec.Struct, frozen=True, tag="closed"):
    """The session ended in good order."""


RecordBody: TypeAlias = (
    SessionBegunRecord
    | PhaseRecord
    | FindingRecord
    | NoticeRecord
    | CallRecord
    | CallUndoneRecord
    | GatePassageRecord
    | TraceRecord
    | FlightTimeRecord
    | SeatRecord
    | TitleRecord
    | SessionEventRecord
    | RemarkRecord
    | SessionClosedRecord
)


class SpoolRecord(msgspec.Struct, frozen=True):
    """One line: `number` counts from 1 in a session, `utc` is when it was judged, in seconds since 1970."""

    number: int = msgspec.field(name="number")
    utc: float = msgspec.field(name="utc")
    body: RecordBody = msgspec.field(name="body")


_DECODER = msgspec.json.Decoder(SpoolRecord)


def decode(data: bytes) -> SpoolRecord:
    """One line from JSON.

    Raises:
        msgspec.MsgspecError: It is none.
    """
    return _DECODER.decode(data)


def to_plain_data(value: Any) -> Any:  # noqa: ANN401 - any plain data
    """Something as plain data, for a column of JSON."""
    return msgspec.to_builtins(value, str_keys=True)
