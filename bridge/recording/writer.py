"""Writes one session to MCAP files: parts, chunks that are closed each second, and the state at the start of a part.

A killed process loses what is not yet in a closed chunk, at most a second.  A power cut loses what the system has not
written to disk yet, at most `SYNC_S`.  A part that has `RecordingLimits.part_bytes` is closed and `NAME.2.mcap`
follows, with the head and a keyframe, so that each part can be read alone:

    NAME.mcap     head, inputs and events 1 to 5000
    NAME.2.mcap   head (part 2), keyframe, inputs and events from 5001

Takes: a head, then inputs and events in order.  Gives: files.  Raises OSError of the disk; used by one thread.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, NamedTuple, TypeAlias

from mcap.writer import CompressionType, Writer
from msgspec.structs import replace

from bridge.recording.file_format import (
    BUNDLE,
    CHANNELS,
    EVENT_TOPICS,
    FRAME,
    HEAD,
    KEYFRAME,
    LOST,
    PROFILE,
    REQUEST,
    TICK,
    FramesLost,
    RecordingHead,
    RequestMessage,
    TickMessage,
    encode_message,
    json_schema_of,
)
from bridge.recording.frame_codec import FrameEncoder, KeyframeBuilder
from bridge.recording.live_file import hold
from bridge.session.requests import Request
from bridge.session.session_events import SessionEvent
from bridge.session.session_input import ClockTick, SessionInput
from rules.signals.model import Frame

CHUNK_S = 0.75
"""Seconds after which a chunk is closed; with the polling interval of the thread less than one second."""
SYNC_S = 10.0
SUFFIX = ".mcap"
DEFAULT_PART_BYTES = 256_000_000
_CHUNK_BYTES = 1 << 20
_SCHEMAS = {topic: json_schema_of(kind) for topic, kind in CHANNELS.items()}

FileOpener: TypeAlias = Callable[[Path], BinaryIO]


@dataclass(frozen=True, slots=True)
class RecordingLimits:
    """Limits of recordings, in bytes.

    Attributes:
        part_bytes: A file of this size is closed and the next part starts.
        budget_bytes: All recordings of a folder together; the oldest are removed.
        min_free_bytes: Recording stops if the disk has less free space.
    """

    part_bytes: int = DEFAULT_PART_BYTES
    budget_bytes: int = 10_000_000_000
    min_free_bytes: int = 300_000_000


class RecordingGap(NamedTuple):
    """Frames and ticks that were dropped, with the values after them.

    `missing_from_s` is the simulator's time of the first frame, None for no frame.
    """

    frames: int
    ticks: int
    since_utc: float
    keyframe: KeyframeBuilder
    missing_from_s: float | None = None


class RecorderItem(NamedTuple):
    """An input, event or gap to write; `utc` in seconds since 1970."""

    sequence: int
    utc: float
    content: SessionInput | SessionEvent | RecordingGap


def open_private(path: Path) -> BinaryIO:
    """Create a file that only its owner can read.

    Raises:
        OSError: The file exists, or the disk refuses it.
    """
    return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")


def part_path(folder: Path, stem: str, part: int) -> Path:
    """Return the path of a part of a recording."""
    return folder / f"{stem}{f'.{part}' if part > 1 else ''}{SUFFIX}"


class RecordingWriter:
    """Writes the recording of one session.

    Attributes:
        stem: The name of the recording, without the number of the part.
        size: Bytes written in all parts.
        path: The present part.
    """

    def __init__(
        self,
        folder: Path,
        stem: str,
        head: RecordingHead,
        *,
        part_bytes: int = DEFAULT_PART_BYTES,
        opener: FileOpener = open_private,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Open the first part and write its head.

        Args:
            folder: The folder of recordings.
            stem: The name of the recording.
            head: The head.
            part_bytes: Bytes after which the next part starts.
            opener: Opens a new file.
            clock: The monotonic clock in seconds.

        Raises:
            OSError: The file cannot be written.
        """
        self.stem, self.size = stem, 0
        self._folder, self._opener, self._clock, self._part_bytes = folder, opener, clock, part_bytes
        self._head = head
        self._keyframe, self._sim_s = KeyframeBuilder(), 0.0
        self._chunk_s: float | None = None
        self._open_part(head, head.began_utc)

    def write(self, item: RecorderItem) -> None:
        """Write one input, event or gap; it reaches the file when its chunk is closed.

        Raises:
            OSError: The file cannot be written.
        """
        sequence, utc, content = item
        self._utc = utc
        match content:
            case Frame():
                self._write_frame(sequence, utc, content)
            case ClockTick(recv_s=recv_s):
                self._add_message(TICK, sequence, utc, TickMessage(recv_s))
            case Request():
                message = RequestMessage(
                    utc, content.verb, content.name, content.by, content.reason, content.device
                )
                self._keyframe.add_request(message)
                self._add_message(REQUEST, sequence, utc, message)
            case RecordingGap():
                self._write_gap(sequence, utc, content)
            case _:
                self._sim_s = content.sim_s
                self._keyframe.add_event(content)
                self._add_message(EVENT_TOPICS[type(content)], sequence, utc, content)
        if self._chunk_s is None:
            self._chunk_s = self._clock()

    def maintain(self) -> None:
        """Close the chunk, synchronise the file to disk, or start another part, when each is due.

        Raises:
            OSError: The file cannot be written.
        """
        now_s = self._clock()
        if self._chunk_s is not None and now_s - self._chunk_s >= CHUNK_S:
            self.flush()
        if now_s - self._synced_s >= SYNC_S:
            self._sync(now_s)
        if self._stream.tell() >= self._part_bytes and self._last_sequence >= self._head.first_sequence:
            self._next_part()

    def flush(self) -> None:
        """Close the chunk and pass it to the operating system."""
        before = self._stream.tell()
        self._writer.flush()  # type: ignore[no-untyped-call]
        self.size += self._stream.tell() - before
        self._chunk_s = None

    def close(self) -> None:
        """Finish the file with its summary.

        Raises:
            OSError: The file cannot be written; it is closed in any case, and readable.
        """
        try:
            self._writer.finish()  # type: ignore[no-untyped-call]
            self._sync(self._clock())
        finally:
            self._stream.close()

    def abandon(self) -> None:
        """Close the file as it is after an error; closed chunks stay readable."""
        with suppress(OSError):  # the error was reported before; the second close frees the file
            self._stream.close()

    def _open_part(self, head: RecordingHead, utc: float) -> None:
        """Open a part and write its head and channels."""
        self.path = part_path(self._folder, self.stem, head.part)
        self._stream = self._opener(self.path)
        hold(self._stream)
        self._writer = Writer(self._stream, chunk_size=_CHUNK_BYTES, compression=CompressionType.ZSTD)
        self._writer.start(profile=PROFILE, library=f"holdshort {head.program}")
        self._channels = {
            topic: self._writer.register_channel(
                topic, "json", self._writer.register_schema(topic[1:].replace("/", "."), "jsonschema", schema)
            )
            for topic, schema in _SCHEMAS.items()
        }
        self._frame_encoder = FrameEncoder()
        self._utc, self._synced_s = utc, self._clock()
        self._add_message(HEAD, head.first_sequence, utc, head)
        self._last_sequence = head.first_sequence - 1
        try:
            self.flush()
        except OSError:
            self.abandon()
            raise

    def _next_part(self) -> None:
        """Close this part and start the next one."""
        self.close()
        self._head = replace(self._head, part=self._head.part + 1, first_sequence=self._last_sequence + 1)
        self._open_part(self._head, self._utc)
        self._add_message(KEYFRAME, self._head.first_sequence, self._utc, self._keyframe.keyframe())
        self._last_sequence = self._head.first_sequence - 1

    def _sync(self, now_s: float) -> None:
        """Synchronise the file to disk."""
        self._stream.flush()
        os.fsync(self._stream.fileno())
        os.utime(self.path)
        self._synced_s = now_s

    def _write_frame(self, sequence: int, utc: float, frame: Frame) -> None:
        """Write a frame, and before it its bundle of names if that is new."""
        self._sim_s = frame.sim_s
        self._keyframe.add_frame(frame)
        bundle, message = self._frame_encoder.encode(frame)
        if bundle is not None:
            self._add_message(BUNDLE, sequence, utc, bundle)
        self._add_message(FRAME, sequence, utc, message)

    def _write_gap(self, sequence: int, utc: float, gap: RecordingGap) -> None:
        """Write how many frames are missing, and the state after them."""
        if gap.frames:
            self._keyframe.merge(gap.keyframe)
            self._sim_s = self._keyframe.sim_s
        lost = FramesLost(gap.frames, gap.ticks, gap.since_utc, self._sim_s, gap.missing_from_s)
        self._add_message(LOST, sequence, utc, lost)
        self._add_message(KEYFRAME, sequence, utc, self._keyframe.keyframe())

    def _add_message(self, topic: str, sequence: int, utc: float, message: object) -> None:
        """Add a message to the present chunk."""
        self._last_sequence = sequence
        self._writer.add_message(
            self._channels[topic],
            log_time=max(0, round(utc * 1e6)) * 1000,
            data=encode_message(message),
            publish_time=max(0, round(self._sim_s * 1e9)),
            sequence=sequence & 0xFFFFFFFF,
        )
