"""Reads a recording back: its head, and everything that went in and came out, in the order of its judging.

A recording that was cut (the program was killed, the disk was full) is read as far as it goes, and then says where it
breaks off.  The parts that belong to it are found by their names.

Takes: a path.  Gives: `Recording`; `InputFaults` where that is none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple, TypeAlias

import msgspec

from bridge.recording.file_format import (
    BUNDLE,
    EVENT_PREFIX,
    EVENT_TYPES,
    FORMAT_VERSION,
    FRAME,
    HEAD,
    KEYFRAME,
    LOST,
    REQUEST,
    TICK,
    FrameMessage,
    FramesLost,
    NameBundle,
    RecordingHead,
    RecordingKeyframe,
    RequestMessage,
    TickMessage,
)  # fmt: skip
from bridge.recording.frame_codec import FrameDecoder
from bridge.recording.mcap_messages import McapMessage, NotARecordingError, TruncatedFileError, read_messages
from bridge.recording.retention import split_part
from bridge.recording.writer import part_path
from bridge.runtime.control import Request
from bridge.session.session_events import SessionEvent
from bridge.session.session_input import ClockTick
from rules.faults import Fault, InputFaults, Place
from rules.signals.model import Frame

SEQUENCE_MASK = 0xFFFFFFFF
"""Sequences have 32 bits."""
EXPECTED_FILE = "a recording as `holdshort watch --keep` makes it"


class UnknownEvent(NamedTuple):
    """An entry of a kind that this program does not know, or no longer in this form: its channel and fields."""

    topic: str
    fields: dict[str, Any]


RecordedContent: TypeAlias = (
    Frame | ClockTick | Request | SessionEvent | FramesLost | RecordingKeyframe | UnknownEvent
)


class RecordedItem(NamedTuple):
    """One thing that went in or came out; `utc` in seconds since 1970, of an entry that of its input."""

    sequence: int
    utc: float
    content: RecordedContent

    @property
    def is_input(self) -> bool:
        """Whether it is an input."""
        return isinstance(self.content, Frame | ClockTick | Request)


class MissingMessagesError(Exception):
    """The messages after this number are not there."""

    def __init__(self, last: int) -> None:
        """Say after which."""
        super().__init__(f"messages are missing after number {last}")


class Recording:
    """One recording, which may be read as often as one likes.

    Attributes:
        head: The session when it began.
        paths: Its parts, from the one that was named on.
        fault: Where and why it breaks off; None where it was read to its end, or nothing was read yet.
    """

    def __init__(self, head: RecordingHead, paths: tuple[Path, ...]) -> None:
        """Nothing is read yet but the head; `open_recording` makes it."""
        self.head = head
        self.paths = paths
        self.fault: Fault | None = None
        self._last_sequence = head.first_sequence

    def messages(self) -> Iterator[McapMessage]:
        """Every message of all parts as it stands in the files; sets `fault` at the end. Never raises."""
        self.fault, self._last_sequence = None, self.head.first_sequence
        for path in self.paths:
            try:
                yield from self._contiguous_messages(path)
            except MissingMessagesError as missing:
                self.fault = Fault(Place(str(path)), str(missing), "all of them", "all before it is whole")
            except TruncatedFileError as broken:
                self.fault = _truncation_fault(path, broken)
            except NotARecordingError as error:
                self.fault = Fault(Place(str(path)), f"this is {error}", "a part of the recording")
            except OSError as error:
                self.fault = _unreadable_fault(path, error)
            if self.fault is not None:
                return

    def _contiguous_messages(self, path: Path) -> Iterator[McapMessage]:
        """The rows of a part while no number is missing."""
        for row in read_messages(path):
            if row.sequence not in (self._last_sequence, (self._last_sequence + 1) & SEQUENCE_MASK):
                raise MissingMessagesError(self._last_sequence)
            self._last_sequence = row.sequence
            yield row

    def items(self) -> Iterator[RecordedItem]:
        """Everything that went in and came out; as `rows`."""
        reading = MessageDecoder()
        for row in self.messages():
            try:
                what = reading.decode(row)
            except (msgspec.MsgspecError, KeyError, RecursionError) as error:
                where = Place(str(self.paths[0]))
                said = f"message {row.sequence} of {row.topic} cannot be read ({error})"
                self.fault = Fault(
                    where, said, f"a message of form {FORMAT_VERSION}", "all before it is whole"
                )
                return
            if what is not None:
                yield RecordedItem(row.sequence, row.utc, what)


def open_recording(path: Path | str) -> Recording:
    """Open a recording.

    Args:
        path: Its first part, or a later one to read from there.

    Raises:
        InputFaults: It cannot be read, is no recording, is of a form that is not known, or ends before its head.
    """
    path = Path(path)
    try:
        head = _read_head(path)
    except OSError as error:
        raise InputFaults([_unreadable_fault(path, error)]) from None
    except NotARecordingError as error:
        raise InputFaults([Fault(Place(str(path)), f"this is {error}", EXPECTED_FILE)]) from None
    except TruncatedFileError as broken:
        what = f"this breaks off at byte {broken.offset}, before its head"
        raise InputFaults(
            [Fault(Place(str(path)), what, EXPECTED_FILE, "nothing was recorded in it")]
        ) from None
    return Recording(head, _find_parts(path))


def _read_head(path: Path) -> RecordingHead:
    """The head, which is the first message.

    Raises:
        InputFaults: It is of another form.
    """
    row = next(read_messages(path), None)
    if row is None or row.topic != HEAD:
        raise NotARecordingError("a recording without a head")
    try:
        form = msgspec.json.decode(row.data, type=_HeadVersion).format_version
        if form == FORMAT_VERSION:
            return msgspec.json.decode(row.data, type=RecordingHead)
    except msgspec.MsgspecError as error:
        raise NotARecordingError(f"a recording whose head cannot be read ({error})") from None
    hint = "a newer holdshort reads it" if form > FORMAT_VERSION else ""
    raise InputFaults(
        [Fault(Place(str(path)), f"this recording is of form {form}", f"form {FORMAT_VERSION}", hint)]
    )


class _HeadVersion(msgspec.Struct, frozen=True):
    """What a head of any form says."""

    format_version: int = msgspec.field(name="format_version")


def _find_parts(path: Path) -> tuple[Path, ...]:
    """This part and all that follow it."""
    stem, part = split_part(path)
    paths = [path]
    while (following := part_path(path.parent, stem, part + len(paths))).is_file():
        paths.append(following)
    return tuple(paths)


def _truncation_fault(path: Path, broken: TruncatedFileError) -> Fault:
    what = f"the recording breaks off at byte {broken.offset} ({broken.why})"
    hint = (
        "the program was stopped at once, the disk was full, or it is being written now; all before is whole"
    )
    return Fault(Place(str(path)), what, "its end", hint)


def _unreadable_fault(path: Path, error: OSError) -> Fault:
    return Fault(Place(str(path)), f"this cannot be read ({error.strerror or error})", EXPECTED_FILE)


class MessageDecoder:
    """Turns messages into what they say, one after the other."""

    def __init__(self) -> None:
        """At the beginning of a part."""
        self._frame_decoder = FrameDecoder()
        self._frame_json = msgspec.json.Decoder(FrameMessage)
        self._event_decoders = {topic: msgspec.json.Decoder(kind) for topic, kind in EVENT_TYPES.items()}
        self._other_decoders: dict[str, Callable[[bytes], RecordedContent | None]] = {
            TICK: lambda data: ClockTick(msgspec.json.decode(data, type=TickMessage).recv_s),
            REQUEST: lambda data: msgspec.json.decode(data, type=RequestMessage).request,
            LOST: lambda data: msgspec.json.decode(data, type=FramesLost),
            KEYFRAME: lambda data: msgspec.json.decode(data, type=RecordingKeyframe),
            BUNDLE: self._add_bundle,
        }

    def decode(self, message: McapMessage) -> RecordedContent | None:
        """What a message says; None where that is nothing of the session."""
        if message.topic == FRAME:
            return self._frame_decoder.decode(self._frame_json.decode(message.data))
        if message.topic.startswith(EVENT_PREFIX):
            return self._decode_event(message)
        other = self._other_decoders.get(message.topic)
        return other(message.data) if other is not None else None

    def _decode_event(self, row: McapMessage) -> RecordedContent:
        decoder = self._event_decoders.get(row.topic)
        if decoder is not None:
            try:
                entry: SessionEvent = decoder.decode(row.data)
            except msgspec.ValidationError:
                pass  # it was another program's: its fields are given as they are
            else:
                return entry
        return UnknownEvent(row.topic, msgspec.json.decode(row.data, type=dict[str, Any]))

    def _add_bundle(self, data: bytes) -> None:
        self._frame_decoder.add_bundle(msgspec.json.decode(data, type=NameBundle))
