"""Defines the records of a spool: everything of a session that goes into the store.

A record that is one row of a table has the names of its columns (`row_writer`).  Each is complete: it contains titles and error classes of the pack, because the process that writes it into the
store later may not have the pack.

Takes: nothing.  Gives: `SpoolRecord`, and a msgspec struct for each type of body.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import msgspec

from bridge.recording.file_format import RecordingHead
from bridge.session.gate_stats import GatePassage
from bridge.session.session_events import RemarkAdded
from bridge.session.threat_error import ErrorClass
from rules.judge.events import (
    CallUndone,
    Finding,
    FlightTimeRecorded,
    Notice,
    TraceRecorded,
    WaiverUndone,
)


class SessionStartRecord(msgspec.Struct, frozen=True, tag="start"):
    """A session started.  `seats` has the titles of seats; `recording` is the name of its recording, '' if there is none."""

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
    """A finding in its present state."""

    finding: Finding = msgspec.field(name="finding")
    error_class: ErrorClass = msgspec.field(name="error_class")


class NoticeRecord(msgspec.Struct, frozen=True, tag="notice"):
    """The crew received a notice."""

    notice: Notice = msgspec.field(name="notice")


class CallRecord(msgspec.Struct, frozen=True, tag="call"):
    """A call was entered."""

    sim_s: float = msgspec.field(name="sim_s")
    call: str = msgspec.field(name="call")
    title: str = msgspec.field(name="title")
    by: str = msgspec.field(name="by")


class CallUndoneRecord(msgspec.Struct, frozen=True, tag="call undone"):
    """A call was undone."""

    call: CallUndone = msgspec.field(name="call")


class GatePassageRecord(msgspec.Struct, frozen=True, tag="gate"):
    """A gate passage in its present state."""

    passage: GatePassage = msgspec.field(name="passage")


class TraceRecord(msgspec.Struct, frozen=True, tag="trace"):
    """Quantities over a stretch of flight."""

    trace: TraceRecorded = msgspec.field(name="trace")


class FlightTimeRecord(msgspec.Struct, frozen=True, tag="time"):
    """An out, off, on or in time of the flight."""

    time: FlightTimeRecorded = msgspec.field(name="time")


class SeatRecord(msgspec.Struct, frozen=True, tag="seat"):
    """Another person sits in a seat from now on; `person` is None for an empty seat."""

    sim_s: float = msgspec.field(name="sim_s")
    seat: str = msgspec.field(name="seat")
    person: str | None = msgspec.field(name="person")


class TitleRecord(msgspec.Struct, frozen=True, tag="title"):
    """The session has another name or course."""

    name: str = msgspec.field(name="name")
    course: str = msgspec.field(name="course")


class ChangeRecord(msgspec.Struct, frozen=True, tag="change"):
    """The session changed; the fields are those of `bridge.session.change_text.ChangeColumns`."""

    sim_s: float = msgspec.field(name="sim_s")
    change: str = msgspec.field(name="change")
    seat: str = msgspec.field(name="seat")
    text: str = msgspec.field(name="text")
    by: str = msgspec.field(name="by")


class RemarkRecord(msgspec.Struct, frozen=True, tag="remark"):
    """A remark was written."""

    remark: RemarkAdded = msgspec.field(name="remark")


class WaiverRecord(msgspec.Struct, frozen=True, tag="waiver"):
    """An item was waived from `from_s` on; `gates` are the titles of the gates that need it."""

    from_s: float = msgspec.field(name="from_s")
    item: str = msgspec.field(name="item")
    label: str = msgspec.field(name="label")
    gates: tuple[str, ...] = msgspec.field(name="gates")
    reason: str = msgspec.field(name="reason")
    by: str = msgspec.field(name="by")


class WaiverUndoneRecord(msgspec.Struct, frozen=True, tag="waiver undone"):
    """The waiver of an item was undone."""

    waiver: WaiverUndone = msgspec.field(name="waiver")


class DataGapRecord(msgspec.Struct, frozen=True, tag="gap"):
    """Data were missing from `from_s` to `to_s` of the simulator's clock; `records` is how many, None where not known."""

    from_s: float = msgspec.field(name="from_s")
    to_s: float = msgspec.field(name="to_s")
    records: int | None = msgspec.field(default=None, name="records")


class SessionClosedRecord(msgspec.Struct, frozen=True, tag="closed"):
    """The session ended properly."""


RecordBody: TypeAlias = (
    SessionStartRecord
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
    | ChangeRecord
    | RemarkRecord
    | WaiverRecord
    | WaiverUndoneRecord
    | DataGapRecord
    | SessionClosedRecord
)


class SpoolRecord(msgspec.Struct, frozen=True):
    """One record: `number` counts from 1 in a session, `utc` is when it was judged, in seconds since 1970."""

    number: int = msgspec.field(name="number")
    utc: float = msgspec.field(name="utc")
    body: RecordBody = msgspec.field(name="body")


_DECODER = msgspec.json.Decoder(SpoolRecord)


def decode(data: bytes) -> SpoolRecord:
    """Decode a record from JSON.

    Raises:
        msgspec.MsgspecError: This is no record.
    """
    return _DECODER.decode(data)


def to_plain_data(value: Any) -> Any:  # noqa: ANN401 - any plain data
    """Convert a value to plain data, for a JSON column."""
    return msgspec.to_builtins(value, str_keys=True)
