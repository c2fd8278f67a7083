"""Recordings without a person's pseudonym.

All messages are copied as they are, with their numbers and times, but for requests, notes and what else people wrote; so the
recording still plays, and still gives to the byte what it says was told.  The copy takes the place of the original when it was
read back and is on the disk.  A recording that was cut is copied as far as it goes, and is cut there still.

Takes: a recording, a `Blot`.  Gives: a recording without the pseudonym.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import BinaryIO

import msgspec
from mcap.records import Channel, Header, McapRecord, Message, Schema
from mcap.stream_reader import StreamReader
from mcap.writer import CompressionType, Writer

from bridge.people.messages import Messages, Unwritable
from bridge.people.names import Blot
from bridge.record.form import ENTRY, FORM, FRAME, HEAD, REQUEST, TICK
from bridge.record.rows import LARGEST, TROUBLES, Broken, ForeignError, Row, read_rows
from bridge.record.shelf import Kept
from bridge.record.writer import open_new

COPY = ".copy"
_CHUNK_BYTES = 1 << 20


class Done(StrEnum):
    """What became of a recording."""

    STAYS = "stays"
    REWRITTEN = "rewritten"
    REMOVED = "removed"


@dataclass(slots=True)
class Look:
    """What was seen of a recording.

    Attributes:
        session: Whose it is; '' where its head cannot be read.
        form: The form of its head; 0 where it cannot be read.
        named: Parts in which the pseudonym stands.
        cut: Parts that cannot be read to their end.
        bears: Whether somebody in it is called so: in a seat, or as who asked.
        accepted: The numbers of requests on which something was told.
    """

    session: str = ""
    form: int = 0
    named: list[Path] = field(default_factory=list)
    cut: list[Path] = field(default_factory=list)
    bears: bool = False
    accepted: set[int] = field(default_factory=set)
    _asked: int | None = None
    _later: list[tuple[Path, Row]] = field(default_factory=list)

    def take(self, path: Path, row: Row, blot: Blot) -> None:
        """See one message."""
        if row.topic.startswith(ENTRY):
            if self._asked is not None:
                self.accepted.add(self._asked)
        elif row.topic in (FRAME, TICK, REQUEST):
            self._asked = row.sequence if row.topic == REQUEST else None
        if row.topic == HEAD:
            self._head(row.data)
        if (row.topic in _WITH_TEXTS or row.topic.startswith(ENTRY)) and blot.may_stand_in(row.data):
            self._later.append((path, row))

    def end(self, blot: Blot) -> None:
        """See in which messages it stands, now that is known which requests were granted."""
        for path, row in self._later:
            self._named(path, row, blot)
        self._later.clear()

    def _head(self, data: bytes) -> None:
        with suppress(msgspec.MsgspecError, UnicodeDecodeError):
            head = msgspec.json.decode(data, type=_Head)
            self.session, self.form = head.session, head.form

    def _named(self, path: Path, row: Row, blot: Blot) -> None:
        try:
            changed = Messages(blot, self.accepted).without(row.topic, row.sequence, row.data) != row.data
        except Unwritable:
            changed = True
        if changed and path not in self.named:
            self.named.append(path)
        with suppress(msgspec.MsgspecError, UnicodeDecodeError):
            said = msgspec.json.decode(row.data, type=_Asked)
            self.bears = (
                self.bears or blot.is_name(said.by) or (said.verb == "seat" and blot.is_name(said.reason))
            )


class _Head(msgspec.Struct, frozen=True):
    form: int = msgspec.field(name="form")
    session: str = msgspec.field(name="session")


class _Asked(msgspec.Struct, frozen=True):
    by: str = msgspec.field(default="", name="by")
    verb: str = msgspec.field(default="", name="verb")
    reason: str = msgspec.field(default="", name="reason")


_WITH_TEXTS = (HEAD, "/picture", REQUEST)


def look_at(kept: Kept, blot: Blot) -> Look:
    """Read a recording through.

    Raises:
        OSError: a part cannot be read.
    """
    look = Look()
    for path in kept.parts:
        try:
            for row in read_rows(path):
                look.take(path, row, blot)
        except (Broken, ForeignError):
            look.cut.append(path)
    look.end(blot)
    return look


def clean(kept: Kept, look: Look, blot: Blot, *, concerned: bool) -> Done:
    """Let a recording be without the pseudonym; where that cannot be done it is removed.

    Args:
        kept: the recording.
        look: what was seen of it.
        blot: knows the pseudonym.
        concerned: whether the session is one of theirs: then what cannot be read of it, and may hold the name, goes too.

    Raises:
        OSError: the disk does not take a copy; that part stands as it was.
    """
    parts = [path for path in kept.parts if path in look.named or (concerned and path in look.cut)]
    if not parts:
        return Done.STAYS
    if look.form != FORM:
        remove(kept)
        return Done.REMOVED
    try:
        for path in parts:
            rewrite(path, blot, look.accepted, cut=path in look.cut)
    except Unwritable:
        remove(kept)
        return Done.REMOVED
    return Done.REWRITTEN


def remove(kept: Kept) -> None:
    """Remove a recording, the last part first, so that what is left of one can still be read.

    Raises:
        OSError: a part cannot be removed.
    """
    for path in reversed(kept.parts):
        path.unlink(missing_ok=True)


def sweep_copies(folder: Path) -> None:
    """Remove copies that a killed run left half written."""
    for copy in folder.glob(f"*{COPY}"):
        copy.unlink(missing_ok=True)


def rewrite(path: Path, blot: Blot, accepted: set[int], *, cut: bool) -> None:
    """Put a copy without the pseudonym in the place of a part.

    Raises:
        OSError: the disk does not take the copy; the original stands as it was.
        Unwritable: a message cannot be written without it.
    """
    copy = path.with_suffix(COPY)
    copy.unlink(missing_ok=True)
    try:
        with open_new(copy) as out, path.open("rb") as stream:
            _copy(stream, out, Messages(blot, accepted), cut=cut)
            out.flush()
            os.fsync(out.fileno())
        _check(path, copy, blot)
        times = path.stat()
        os.utime(copy, (times.st_atime, times.st_mtime))
        copy.replace(path)
        _sync(path.parent)
    finally:
        copy.unlink(missing_ok=True)


def _copy(stream: BinaryIO, out: BinaryIO, messages: Messages, *, cut: bool) -> None:
    """Copy record by record, as far as the file can be read; what was cut gets no end."""
    writer = Writer(out, chunk_size=_CHUNK_BYTES, compression=CompressionType.ZSTD)
    schemas: dict[int, int] = {}
    channels: dict[int, tuple[int, str]] = {}
    for record in _records(stream):
        match record:
            case Header():
                writer.start(profile=record.profile, library=record.library)
            case Schema() if record.id not in schemas:  # the summary has them again
                schemas[record.id] = writer.register_schema(record.name, record.encoding, record.data)
            case Channel() if record.id not in channels:
                schema = schemas.get(record.schema_id, 0)
                made = writer.register_channel(record.topic, record.message_encoding, schema, record.metadata)
                channels[record.id] = made, record.topic
            case Message():
                channel, topic = channels.get(record.channel_id, (0, ""))
                if not channel:
                    raise Unwritable(f"message {record.sequence} is of no channel")
                data = messages.without(topic, record.sequence, record.data)
                writer.add_message(channel, record.log_time, data, record.publish_time, record.sequence)
            case _:
                pass
    (writer.flush if cut else writer.finish)()  # type: ignore[no-untyped-call]


def _records(stream: BinaryIO) -> Iterator[McapRecord]:
    """The records, up to where the file breaks off or is damaged."""
    reader = StreamReader(stream, emit_chunks=False, validate_crcs=True, record_size_limit=LARGEST)
    try:
        yield from reader.records
    except TROUBLES:
        return


def _check(path: Path, copy: Path, blot: Blot) -> None:
    """See that the copy has every message, and the pseudonym in none.

    Raises:
        Unwritable: it has not.
    """
    look = look_at(Kept("", [copy]), blot)
    if look.named or _count(copy) != _count(path):
        raise Unwritable("the copy is not as it must be")


def _count(path: Path) -> int:
    count = 0
    with suppress(Broken, ForeignError):
        for _ in read_rows(path):
            count += 1
    return count


def _sync(folder: Path) -> None:
    """Let the new name be on the disk too, where the system can do that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
