"""Reads a recording: its head, and all inputs and events in the order of judging.

A recording that was cut (the program was killed, the disk was full) is read as far as it goes; `fault` then names the
place.  One that is being written is read as far as it is written.  The parts that belong to it are found by their names.

Takes: a path.  Gives: `Recording`; `InputFaults` if the file is not a recording.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Generic, NamedTuple, TypeAlias, TypeVar, cast

import msgspec

from bridge.recording.file_format import (
    BUNDLE,
    EVENT_PREFIX,
    EVENT_TOPICS,
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
from bridge.recording.frame_codec import FrameDecoder, StoredFrame, keyframe_to_frame
from bridge.recording.gap_filter import GapFilter
from bridge.recording.live_file import is_being_written
from bridge.recording.mcap_messages import McapMessage, NotARecordingError, TruncatedFileError, read_messages
from bridge.recording.recording_budget import split_part
from bridge.recording.writer import part_path
from bridge.session.requests import Request
from bridge.session.session_events import SessionEnded, SessionEvent
from bridge.session.session_input import ClockTick
from rules.faults import Fault, InputFaults, Place
from rules.signals.model import Frame

_ENDED = EVENT_TOPICS[SessionEnded]
SEQUENCE_MASK = 0xFFFFFFFF
"""Sequences have 32 bits and start again at 0."""
EXPECTED_FILE = "a recording as `holdshort watch --data-dir` makes it"


class UnknownEvent(NamedTuple):
    """An event of an unknown kind, or with other fields than this version has: its channel and fields."""

    topic: str
    fields: dict[str, Any]


_Content = TypeVar("_Content")
RecordedContent: TypeAlias = (
    Frame | ClockTick | Request | SessionEvent | FramesLost | RecordingKeyframe | UnknownEvent
)


class StoredEvent(NamedTuple):
    """An event as it is stored."""

    topic: str
    data: bytes

    def event(self) -> SessionEvent | None:
        """Decode the event; None if another version of the program wrote it."""
        decoder = _EVENT_DECODERS.get(self.topic)
        if decoder is None:
            return None
        try:
            event: SessionEvent = decoder.decode(self.data)
        except msgspec.MsgspecError:
            return None
        return event


class StoredKeyframe(NamedTuple):
    """A keyframe as it is stored; most of them are not used."""

    data: bytes

    def keyframe(self) -> RecordingKeyframe:
        """Decode the keyframe.

        Raises:
            MsgspecError: It cannot be decoded.
        """
        return msgspec.json.decode(self.data, type=RecordingKeyframe)


_EVENT_DECODERS = {topic: msgspec.json.Decoder(kind) for topic, kind in EVENT_TYPES.items()}

StoredContent: TypeAlias = StoredFrame | ClockTick | Request | StoredEvent | FramesLost | StoredKeyframe
ReplayContent: TypeAlias = StoredFrame | Frame | ClockTick | Request | StoredEvent


class RecordedItem(NamedTuple, Generic[_Content]):
    """One input or event; `utc` in seconds since 1970, for an event that of its input."""

    sequence: int
    utc: float
    content: _Content


class MissingMessagesError(Exception):
    """The messages after this number are missing."""

    def __init__(self, last: int) -> None:
        super().__init__(f"messages are missing after number {last}")


class Recording:
    """One recording, which can be read any number of times.

    Attributes:
        head: The state of the session at its start.
        paths: The parts, starting with the one that was named.
        fault: The place and reason where the recording ends early; None if it was read to its end, or to the end of its
            session, or was not read yet.
        running: True if it ends early because its session still runs, and is being recorded.
    """

    def __init__(self, head: RecordingHead, paths: tuple[Path, ...]) -> None:
        """Use `open_recording` to make one."""
        self.head = head
        self.paths = paths
        self.fault: Fault | None = None
        self.running = False
        self._last_sequence = head.first_sequence
        self._has_ended = False

    def messages(self) -> Iterator[McapMessage]:
        """Yield every message of all parts as stored; sets `fault` and `running` at the end.  Never raises."""
        self.fault, self.running = None, False
        self._last_sequence, self._has_ended = self.head.first_sequence, False
        part = 0
        while part < len(self.paths) and self.fault is None:
            path, part = self.paths[part], part + 1
            is_live = is_being_written(path)
            try:
                yield from self._contiguous_messages(path)
            except MissingMessagesError as missing:
                self.fault = Fault(
                    Place(str(path)), str(missing), "every message", "everything before it is complete"
                )
            except TruncatedFileError as error:
                self._note_early_end(path, error, is_live=is_live)
            except NotARecordingError as error:
                self.fault = Fault(Place(str(path)), f"this is {error}", "a part of the recording")
            except OSError as error:
                self.fault = _unreadable_fault(path, error)
            if part == len(self.paths):
                self.paths = _find_parts(self.paths[0])  # a part may have followed while this one was read

    def _note_early_end(self, path: Path, error: TruncatedFileError, *, is_live: bool) -> None:
        """Note that a part has no end, unless another part follows: the numbers then show whether messages are missing.

        After its end a session judges nothing: the file stays open only for remarks, until the next session.
        """
        if self._has_ended or len(_find_parts(path)) > 1:
            return
        self.running = is_live or is_being_written(path)
        self.fault = _running_fault(path) if self.running else _truncation_fault(path, error)

    def _contiguous_messages(self, path: Path) -> Iterator[McapMessage]:
        """Yield the messages of a part while no number is missing.

        A part that follows a failure of the disk may begin with messages that the last one has too: they are left out.
        """
        repeating = False
        for row in read_messages(path):
            following = (self._last_sequence + 1) & SEQUENCE_MASK
            if row.topic == HEAD:
                behind = (self._last_sequence - row.sequence) & SEQUENCE_MASK
                repeating = path != self.paths[0] and behind <= SEQUENCE_MASK // 2
            elif repeating and row.sequence == following:
                repeating = False
            if repeating:
                if row.topic == BUNDLE:
                    yield row
                continue
            if row.sequence not in (self._last_sequence, following):
                raise MissingMessagesError(self._last_sequence)
            self._last_sequence = row.sequence
            self._has_ended = self._has_ended or row.topic == _ENDED
            yield row

    def items(self) -> Iterator[RecordedItem[RecordedContent]]:
        """Yield every input and event, decoded, with keyframes and losses; sets `fault` like `messages`."""
        return self._decoded(MessageDecoder().decode)

    def replay_items(self) -> Iterator[RecordedItem[ReplayContent]]:
        """Yield every input and event in the order of judging; sets `fault` like `messages`.

        A gap is filled: the keyframe after it is yielded as a frame with every value.  If nothing was read before it, the
        frame has the calls, and the requests follow whose effect lasts.
        """
        decoder, gaps, begun = MessageDecoder(), GapFilter(frames_missing=self.head.part > 1), False
        stored: Iterator[RecordedItem[StoredContent]] = self._decoded(decoder.decode_stored)
        for item in stored:
            content = item.content
            if isinstance(content, FramesLost):
                gaps.add_loss(content)
            elif not isinstance(content, StoredKeyframe):
                begun = begun or isinstance(content, StoredFrame)
                yield cast("RecordedItem[ReplayContent]", item)
            else:
                is_used, missing_from_s, missing = gaps.fill()
                if not is_used:
                    continue
                try:
                    keyframe = content.keyframe()
                except (msgspec.MsgspecError, RecursionError) as error:
                    self.fault = self._decode_fault(item.sequence, KEYFRAME, error)
                    return
                calls = () if begun else keyframe.calls
                frame = keyframe_to_frame(keyframe, decoder.link, calls, missing_from_s, missing)
                yield RecordedItem(item.sequence, item.utc, frame)
                for request in () if begun else keyframe.requests:
                    yield RecordedItem(item.sequence, item.utc, request.request)
                begun = True

    def _decoded(self, decode: Callable[[McapMessage], _Content | None]) -> Iterator[RecordedItem[_Content]]:
        """Yield every message, decoded; one that cannot be decoded is the end, and the fault."""
        for row in self.messages():
            try:
                content = decode(row)
            except (msgspec.MsgspecError, KeyError, RecursionError) as error:
                self.fault = self._decode_fault(row.sequence, row.topic, error)
                return
            if content is not None:
                yield RecordedItem(row.sequence, row.utc, content)

    def _decode_fault(self, sequence: int, topic: str, error: Exception) -> Fault:
        return Fault(
            Place(str(self.paths[0])),
            f"message {sequence} of {topic} cannot be read ({error})",
            f"a message of format version {FORMAT_VERSION}",
            "everything before it is complete",
        )


def open_recording(path: Path | str) -> Recording:
    """Open a recording.

    Args:
        path: Its first part, or a later one to read from there.

    Raises:
        InputFaults: The file cannot be read, is not a recording, has another format version, or has no head.
    """
    path = Path(path)
    try:
        head = _read_head(path)
    except OSError as error:
        raise InputFaults([_unreadable_fault(path, error)]) from None
    except NotARecordingError as error:
        raise InputFaults([Fault(Place(str(path)), f"this is {error}", EXPECTED_FILE)]) from None
    except TruncatedFileError as error:
        reason = f"this ends at byte {error.offset}, before its head ({error.why})"
        raise InputFaults([Fault(Place(str(path)), reason, EXPECTED_FILE, "it contains no data")]) from None
    return Recording(head, _find_parts(path))


def _read_head(path: Path) -> RecordingHead:
    """Read the head, which is the first message.

    Raises:
        InputFaults: It has another format version.
    """
    row = next(read_messages(path), None)
    if row is None or row.topic != HEAD:
        raise NotARecordingError("a recording without a head")
    try:
        version = msgspec.json.decode(row.data, type=_HeadVersion).format_version
        if version == FORMAT_VERSION:
            return msgspec.json.decode(row.data, type=RecordingHead)
    except msgspec.MsgspecError as error:
        raise NotARecordingError(f"a recording whose head cannot be read ({error})") from None
    hint = "use a newer holdshort" if version > FORMAT_VERSION else ""
    raise InputFaults(
        [
            Fault(
                Place(str(path)),
                f"this recording has format version {version}",
                f"version {FORMAT_VERSION}",
                hint,
            )
        ]
    )


class _HeadVersion(msgspec.Struct, frozen=True):
    """The only field that heads of all versions have."""

    format_version: int = msgspec.field(name="format_version")


def _find_parts(path: Path) -> tuple[Path, ...]:
    """Return this part and all later ones."""
    stem, part = split_part(path)
    paths = [path]
    while (following := part_path(path.parent, stem, part + len(paths))).is_file():
        paths.append(following)
    return tuple(paths)


def _running_fault(path: Path) -> Fault:
    return Fault(Place(str(path)), "the session still runs: this is what was recorded so far")


def _truncation_fault(path: Path, error: TruncatedFileError) -> Fault:
    reason = f"the recording ends early at byte {error.offset} ({error.why})"
    hint = "the program was killed, or the disk was full; everything before is complete"
    return Fault(Place(str(path)), reason, "its end", hint)


def _unreadable_fault(path: Path, error: OSError) -> Fault:
    return Fault(Place(str(path)), f"this cannot be read ({error.strerror or error})", EXPECTED_FILE)


class MessageDecoder:
    """Decodes messages one after the other.

    Attributes:
        link: The link of the frames; '' before the first one.
    """

    def __init__(self) -> None:
        self.link = ""
        self._frame_decoder = FrameDecoder()
        self._frame_json = msgspec.json.Decoder(FrameMessage)
        self._other_decoders: dict[str, Callable[[bytes], StoredContent | None]] = {
            TICK: lambda data: ClockTick(msgspec.json.decode(data, type=TickMessage).recv_s),
            REQUEST: lambda data: msgspec.json.decode(data, type=RequestMessage).request,
            LOST: lambda data: msgspec.json.decode(data, type=FramesLost),
            KEYFRAME: StoredKeyframe,
            BUNDLE: self._add_bundle,
        }

    def decode(self, message: McapMessage) -> RecordedContent | None:
        """Decode a message with its samples or event; None if it is neither input nor event."""
        match content := self.decode_stored(message):
            case StoredFrame():
                return content.frame()
            case StoredKeyframe():
                return content.keyframe()
            case StoredEvent():
                event = content.event()
                if event is not None:
                    return event
                return UnknownEvent(message.topic, msgspec.json.decode(message.data, type=dict[str, Any]))
            case _:
                return content

    def decode_stored(self, message: McapMessage) -> StoredContent | None:
        """Decode a message without making samples and events; None if it is neither input nor event."""
        if message.topic == FRAME:
            return self._frame_decoder.stored(self._frame_json.decode(message.data))
        if message.topic.startswith(EVENT_PREFIX):
            return StoredEvent(message.topic, message.data)
        other = self._other_decoders.get(message.topic)
        return other(message.data) if other is not None else None

    def _add_bundle(self, data: bytes) -> None:
        bundle = msgspec.json.decode(data, type=NameBundle)
        self.link = bundle.link
        self._frame_decoder.add_bundle(bundle)
