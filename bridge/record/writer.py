"""Writes one session into MCAP files: parts, chunks that are closed each second, and what a part needs to begin with.

A killed process loses what was not yet in a closed chunk, at most a second; a power cut what the system had not
put on the disk yet, at most `SYNC_S`.  A part that grew to `Limits.part` bytes is ended and `NAME.2.mcap` goes on, with the
head again and a picture of all that is known, so that each part can be read alone.

Takes: a head, inputs and entries in their order.  Gives: files.  Raises OSError as the disk does; it is one thread's.
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

from bridge.control import Request
from bridge.inputs import Heeded, Ticked
from bridge.notes import Told
from bridge.record.form import (
    BUNDLE,
    CHANNELS,
    FRAME,
    HEAD,
    LOST,
    PICTURE,
    PROFILE,
    REQUEST,
    TICK,
    TOPICS,
    Head,
    Lost,
    RequestForm,
    TickForm,
    encode,
    schema_of,
)
from bridge.record.frames import Fold, Packer
from rules.signals.model import Frame

CHUNK_S = 0.75
"""A chunk is closed after so long; the thread looks often enough for a whole second to hold."""
SYNC_S = 10.0
SUFFIX = ".mcap"
PART_BYTES = 256_000_000
_CHUNK_BYTES = 1 << 20
_SCHEMAS = {topic: schema_of(kind) for topic, kind in CHANNELS.items()}

Opener: TypeAlias = Callable[[Path], BinaryIO]


@dataclass(frozen=True, slots=True)
class Limits:
    """How large recordings may become, in bytes.

    Attributes:
        part: A file of this size is ended and another goes on.
        budget: All recordings of a folder together; the oldest give way.
        least_free: Where the disk has less left, recording stops.
    """

    part: int = PART_BYTES
    budget: int = 10_000_000_000
    least_free: int = 300_000_000


class Gap(NamedTuple):
    """Frames and ticks that there was no room for, with what the frames said in the end."""

    frames: int
    ticks: int
    since_utc: float
    fold: Fold


class Item(NamedTuple):
    """Something to write; `utc` in seconds since 1970."""

    sequence: int
    utc: float
    what: Heeded | Told | Gap


def open_new(path: Path) -> BinaryIO:
    """A new file that only its owner can read.

    Raises:
        OSError: It exists, or the disk will not have it.
    """
    return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")


def part_path(folder: Path, stem: str, part: int) -> Path:
    """Where a part of a recording is."""
    return folder / f"{stem}{f'.{part}' if part > 1 else ''}{SUFFIX}"


class Tape:
    """One session's recording, open for writing.

    Attributes:
        stem: Its name, without the number of the part.
        size: Bytes written in all parts.
        path: The present part.
    """

    def __init__(
        self,
        folder: Path,
        stem: str,
        head: Head,
        *,
        part: int = PART_BYTES,
        opener: Opener = open_new,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Open the first part and write its head.

        Args:
            folder: Where.
            stem: The name.
            head: The session.
            part: Bytes after which the next part begins.
            opener: Opens a new file.
            clock: The monotonic clock in seconds.

        Raises:
            OSError: The disk will not have it.
        """
        self.stem, self.size = stem, 0
        self._folder, self._opener, self._clock, self._part = folder, opener, clock, part
        self._head = head
        self._fold, self._sim_s = Fold(), 0.0
        self._chunk_s: float | None = None
        self._begin(head, head.began_utc)

    def take(self, item: Item) -> None:
        """Write one input, entry or gap; nothing is on the disk before the chunk is closed.

        Raises:
            OSError: The disk will not have it.
        """
        sequence, utc, what = item
        self._utc = utc
        match what:
            case Frame():
                self._frame(sequence, utc, what)
            case Ticked(recv_s=recv_s):
                self._put(TICK, sequence, utc, TickForm(recv_s))
            case Request():
                form = RequestForm(utc, what.verb, what.name, what.by, what.reason, what.device)
                self._fold.ask(form)
                self._put(REQUEST, sequence, utc, form)
            case Gap():
                self._gap(sequence, utc, what)
            case _:
                self._sim_s = what.sim_s
                self._fold.hear(what)
                self._put(TOPICS[type(what)], sequence, utc, what)
        if self._chunk_s is None:
            self._chunk_s = self._clock()

    def look(self) -> None:
        """Close the chunk, put it on the disk, or begin another part, where it is time.

        Raises:
            OSError: The disk will not have it.
        """
        now_s = self._clock()
        if self._chunk_s is not None and now_s - self._chunk_s >= CHUNK_S:
            self.flush()
        if now_s - self._synced_s >= SYNC_S:
            self._sync(now_s)
        if self._stream.tell() >= self._part:
            self._turn()

    def flush(self) -> None:
        """Close the chunk and hand it to the system."""
        before = self._stream.tell()
        self._writer.flush()  # type: ignore[no-untyped-call]
        self.size += self._stream.tell() - before
        self._chunk_s = None

    def close(self) -> None:
        """End the file with its summary.

        Raises:
            OSError: The disk will not have it; the file is closed all the same, and readable.
        """
        try:
            self._writer.finish()  # type: ignore[no-untyped-call]
            self._sync(self._clock())
        finally:
            self._stream.close()

    def abandon(self) -> None:
        """Let go of the file as it is, after a trouble; what was in closed chunks stays."""
        with suppress(OSError):  # it was in trouble before; the second try frees it
            self._stream.close()

    def _begin(self, head: Head, utc: float) -> None:
        """Open a part and write what it begins with."""
        self.path = part_path(self._folder, self.stem, head.part)
        self._stream = self._opener(self.path)
        self._writer = Writer(self._stream, chunk_size=_CHUNK_BYTES, compression=CompressionType.ZSTD)
        self._writer.start(profile=PROFILE, library=f"holdshort {head.program}")
        self._channels = {
            topic: self._writer.register_channel(
                topic, "json", self._writer.register_schema(topic[1:].replace("/", "."), "jsonschema", schema)
            )
            for topic, schema in _SCHEMAS.items()
        }
        self._packer = Packer()
        self._utc, self._synced_s = utc, self._clock()
        self._put(HEAD, head.first, utc, head)
        self._last = head.first - 1
        try:
            self.flush()
        except OSError:
            self.abandon()
            raise

    def _turn(self) -> None:
        """End this part and begin the next."""
        self.close()
        self._head = replace(self._head, part=self._head.part + 1, first=self._last + 1)
        self._begin(self._head, self._utc)
        self._put(PICTURE, self._head.first, self._utc, self._fold.picture())

    def _sync(self, now_s: float) -> None:
        """Let the disk have all that the system holds."""
        self._stream.flush()
        os.fsync(self._stream.fileno())
        os.utime(self.path)
        self._synced_s = now_s

    def _frame(self, sequence: int, utc: float, frame: Frame) -> None:
        """Write a frame, before it the names that it carries where they are new."""
        self._sim_s = frame.sim_s
        self._fold.take(frame)
        bundle, form = self._packer.pack(frame)
        if bundle is not None:
            self._put(BUNDLE, sequence, utc, bundle)
        self._put(FRAME, sequence, utc, form)

    def _gap(self, sequence: int, utc: float, gap: Gap) -> None:
        """Say what is missing, and how everything stood after it."""
        if gap.frames:
            self._fold.join(gap.fold)
            self._sim_s = self._fold.sim_s
        self._put(LOST, sequence, utc, Lost(gap.frames, gap.ticks, gap.since_utc, self._sim_s))
        self._put(PICTURE, sequence, utc, self._fold.picture())

    def _put(self, topic: str, sequence: int, utc: float, message: object) -> None:
        """Add a message to the chunk."""
        self._last = sequence
        self._writer.add_message(
            self._channels[topic],
            log_time=max(0, round(utc * 1e6)) * 1000,
            data=encode(message),
            publish_time=max(0, round(self._sim_s * 1e9)),
            sequence=sequence & 0xFFFFFFFF,
        )
