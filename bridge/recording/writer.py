"""Writes one session to MCAP files: parts, chunks that are closed each second, and the state at the start of a part.

A killed process loses what is not yet in a closed chunk, at most a second.  A power cut loses what the system has not
written to disk yet, at most `SYNC_S`.  A part that has `RecordingLimits.part_bytes` is closed and `NAME.2.mcap`
follows, with the head and a keyframe, so that each part can be read alone:

    NAME.mcap     head, inputs and events 1 to 5000
    NAME.2.mcap   head (part 2), keyframe, inputs and events from 5001

After a failure of the disk the next part begins with what may not be in a closed chunk of the last one:

    written   1 .. 40 | 41 .. 45    the chunk from 41 on failed
    next part head, keyframe as of 40, 41 .. 45, 46 ..

Takes: a head, then inputs and events in order.  Gives: files.  Raises OSError of the disk; used by one thread.
"""

from __future__ import annotations

import errno
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
MAX_NANOSECONDS = 2.0**63
"""The largest time of a message: a power of two, since larger whole numbers may be rounded up beyond 64 bits."""
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
    """Writes the recording of one session; `open` begins it, and continues it after a failure.

    Attributes:
        stem: The name of the recording, without the number of the part.
        size: Bytes written in all parts.
        path: The present part, or the last one.
        is_open: True while a part can be written.
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
        """Open nothing yet.

        Args:
            folder: The folder of recordings.
            stem: The name of the recording.
            head: The head.
            part_bytes: Bytes after which the next part starts.
            opener: Opens a new file.
            clock: The monotonic clock in seconds.
        """
        self.stem, self.size, self.is_open = stem, 0, False
        self._folder, self._opener, self._clock, self._part_bytes = folder, opener, clock, part_bytes
        self.path = part_path(folder, stem, head.part)
        self._head = self._next_head = head
        # What the keyframe has folded is in a closed chunk; what is not is pending.
        self._keyframe, self._sim_s = KeyframeBuilder(), 0.0
        self._pending: list[RecorderItem] = []
        self._flushed_sequence = self._last_sequence = head.first_sequence - 1
        self._chunk_s: float | None = None
        self._utc = head.began_utc

    def open(self) -> None:
        """Open the next part and write what no earlier part has; the folder is made again if it was moved.

        Raises:
            OSError: The file cannot be written; nothing is lost, and this can be tried again.
        """
        waiting, self._pending = self._pending, []
        self._head = replace(self._next_head, first_sequence=self._flushed_sequence + 1)
        self.path = part_path(self._folder, self.stem, self._head.part)
        self._folder.mkdir(mode=0o700, exist_ok=True)
        try:
            self._open_part()
            for item in waiting:
                self.write(item)
            self.flush()
        except Exception:
            self._pending = waiting
            if self.is_open:  # then the file is ours
                self.abandon()
                with suppress(OSError):
                    self.path.unlink()
            raise
        self._next_head = replace(self._head, part=self._head.part + 1)

    def skip_last(self) -> None:
        """Replace the last item, which cannot be written, by a gap, and begin another part.

        Raises:
            OSError: The file cannot be written.
        """
        last = self._pending.pop()
        gap = RecordingGap(0, 0, last.utc, KeyframeBuilder())
        if isinstance(last.content, Frame):
            gap.keyframe.add_frame(last.content)
            gap = gap._replace(frames=1, missing_from_s=last.content.sim_s)
        self._pending.append(last._replace(content=gap))
        self.abandon()
        self.open()

    def write(self, item: RecorderItem) -> None:
        """Write one input, event or gap; it reaches the file when its chunk is closed.

        Raises:
            OSError: The file cannot be written.
        """
        sequence, utc, content = item
        self._utc, before = utc, self._stream.tell()
        if isinstance(content, RecordingGap):
            self.flush()  # its keyframe has everything before it
        self._pending.append(item)
        match content:
            case Frame():
                self._write_frame(sequence, utc, content)
            case ClockTick(recv_s=recv_s):
                self._add_message(TICK, sequence, utc, TickMessage(recv_s))
            case Request():
                self._add_message(REQUEST, sequence, utc, _request_message(utc, content))
            case RecordingGap():
                self._write_gap(sequence, utc, content)
            case _:
                self._sim_s = content.sim_s
                self._add_message(EVENT_TOPICS[type(content)], sequence, utc, content)
        if self._stream.tell() != before:  # the chunk was full
            self.flush()
        elif self._chunk_s is None:
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
            if not self.path.exists():
                self.close()
                raise FileNotFoundError(errno.ENOENT, "the recording was moved or removed")
        is_full = self._stream.tell() >= self._part_bytes
        if is_full and self._last_sequence >= self._head.first_sequence:
            self._next_part()

    def flush(self) -> None:
        """Close the chunk and pass it to the operating system."""
        before = self._stream.tell()
        self._writer.flush()  # type: ignore[no-untyped-call]
        self.size += self._stream.tell() - before
        self._chunk_s = None
        for item in self._pending:
            self._fold(item)
            self._flushed_sequence = item.sequence
        self._pending.clear()

    def close(self) -> None:
        """Finish the file with its summary.

        Raises:
            OSError: The file cannot be written; it is closed in any case, and readable.
        """
        self.is_open = False
        try:
            self.flush()
            self._writer.finish()  # type: ignore[no-untyped-call]
            self._sync(self._clock())
        finally:
            self._stream.close()

    def abandon(self) -> None:
        """Close the file as it is after an error; closed chunks stay readable."""
        if not self.is_open:
            return
        self.is_open = False
        with suppress(OSError):  # the error was reported before; the second close frees the file
            self._stream.close()

    def _open_part(self) -> None:
        """Open a part and write its head, its channels, and in a later part the state so far."""
        head = self._head
        self._stream = self._opener(self.path)
        self.is_open = True
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
        self._synced_s = self._clock()
        self._add_message(HEAD, head.first_sequence, self._utc, head)
        if head.part > 1:
            self._add_message(KEYFRAME, head.first_sequence, self._utc, self._keyframe.keyframe())
        self._last_sequence = head.first_sequence - 1

    def _next_part(self) -> None:
        """Close this part and start the next one."""
        self.close()
        self.open()

    def _fold(self, item: RecorderItem) -> None:
        """Fold an item that is in a closed chunk into the state."""
        match item.content:
            case Frame():
                self._keyframe.add_frame(item.content)
            case Request():
                self._keyframe.add_request(_request_message(item.utc, item.content))
            case RecordingGap():
                self._merge(item.content)
            case ClockTick():
                pass
            case _:
                self._keyframe.add_event(item.content)

    def _merge(self, gap: RecordingGap) -> None:
        """Fold the frames of a gap."""
        if gap.frames:
            self._keyframe.merge(gap.keyframe)

    def _sync(self, now_s: float) -> None:
        """Synchronise the file to disk."""
        self._stream.flush()
        os.fsync(self._stream.fileno())
        # Not by its name: the folder may have been moved.
        os.utime(self._stream.fileno() if os.utime in os.supports_fd else self.path)
        self._synced_s = now_s

    def _write_frame(self, sequence: int, utc: float, frame: Frame) -> None:
        """Write a frame, and before it its bundle of names if that is new."""
        self._sim_s = frame.sim_s
        bundle, message = self._frame_encoder.encode(frame)
        if bundle is not None:
            self._add_message(BUNDLE, sequence, utc, bundle)
        self._add_message(FRAME, sequence, utc, message)

    def _write_gap(self, sequence: int, utc: float, gap: RecordingGap) -> None:
        """Write how many frames are missing, and the state after them."""
        self._merge(gap)
        if gap.frames:
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
            publish_time=_nanoseconds(self._sim_s),
            sequence=sequence & 0xFFFFFFFF,
        )


def _request_message(utc: float, request: Request) -> RequestMessage:
    return RequestMessage(utc, request.verb, request.name, request.by, request.reason, request.device)


def _nanoseconds(sim_s: float) -> int:
    """Convert a simulator's time to the nearest one that the file can hold: 64 bits without a sign."""
    nanoseconds = sim_s * 1e9
    return round(min(max(nanoseconds, 0.0), MAX_NANOSECONDS)) if nanoseconds == nanoseconds else 0
