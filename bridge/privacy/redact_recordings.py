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

from bridge.privacy.pseudonyms import Redactor
from bridge.privacy.redact_messages import MessageRedactor, NotRedactableError
from bridge.recording.file_format import EVENT_PREFIX, FORMAT_VERSION, FRAME, HEAD, KEYFRAME, REQUEST, TICK
from bridge.recording.mcap_messages import (
    MAX_RECORD_BYTES,
    READ_ERRORS,
    McapMessage,
    NotARecordingError,
    TruncatedFileError,
    read_messages,
)
from bridge.recording.retention import RecordingFiles
from bridge.recording.writer import open_private

COPY_SUFFIX = ".copy"
_CHUNK_BYTES = 1 << 20


class RedactionResult(StrEnum):
    """What became of a recording."""

    UNCHANGED = "unchanged"
    REDACTED = "redacted"
    REMOVED = "removed"


@dataclass(slots=True)
class RecordingScan:
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
    format_version: int = 0
    matching_parts: list[Path] = field(default_factory=list)
    truncated_parts: list[Path] = field(default_factory=list)
    names_person: bool = False
    accepted_requests: set[int] = field(default_factory=set)
    _open_request: int | None = None
    _deferred: list[tuple[Path, McapMessage]] = field(default_factory=list)

    def add(self, path: Path, row: McapMessage, redactor: Redactor) -> None:
        """See one message."""
        if row.topic.startswith(EVENT_PREFIX):
            if self._open_request is not None:
                self.accepted_requests.add(self._open_request)
        elif row.topic in (FRAME, TICK, REQUEST):
            self._open_request = row.sequence if row.topic == REQUEST else None
        if row.topic == HEAD:
            self._parse_head(row.data)
        if (row.topic in _TEXT_TOPICS or row.topic.startswith(EVENT_PREFIX)) and redactor.may_occur_in(
            row.data
        ):
            self._deferred.append((path, row))

    def finish(self, redactor: Redactor) -> None:
        """See in which messages it stands, now that is known which requests were granted."""
        for path, row in self._deferred:
            self._check_row(path, row, redactor)
        self._deferred.clear()

    def _parse_head(self, data: bytes) -> None:
        with suppress(msgspec.MsgspecError, UnicodeDecodeError):
            head = msgspec.json.decode(data, type=_Head)
            self.session, self.format_version = head.session, head.format_version

    def _check_row(self, path: Path, row: McapMessage, redactor: Redactor) -> None:
        try:
            changed = (
                MessageRedactor(redactor, self.accepted_requests).redact(row.topic, row.sequence, row.data)
                != row.data
            )
        except NotRedactableError:
            changed = True
        if changed and path not in self.matching_parts:
            self.matching_parts.append(path)
        with suppress(msgspec.MsgspecError, UnicodeDecodeError):
            said = msgspec.json.decode(row.data, type=_RequestFields)
            self.names_person = (
                self.names_person
                or redactor.matches(said.by)
                or (said.verb == "assign_seat" and redactor.matches(said.reason))
            )


class _Head(msgspec.Struct, frozen=True):
    format_version: int = msgspec.field(name="format_version")
    session: str = msgspec.field(name="session")


class _RequestFields(msgspec.Struct, frozen=True):
    by: str = msgspec.field(default="", name="by")
    verb: str = msgspec.field(default="", name="verb")
    reason: str = msgspec.field(default="", name="reason")


_TEXT_TOPICS = (HEAD, KEYFRAME, REQUEST)


def scan_recording(recording: RecordingFiles, redactor: Redactor) -> RecordingScan:
    """Read a recording through.

    Raises:
        OSError: a part cannot be read.
    """
    look = RecordingScan()
    for path in recording.parts:
        try:
            for row in read_messages(path):
                look.add(path, row, redactor)
        except (TruncatedFileError, NotARecordingError):
            look.truncated_parts.append(path)
    look.finish(redactor)
    return look


def redact_recording(
    recording: RecordingFiles, scan: RecordingScan, redactor: Redactor, *, of_person: bool
) -> RedactionResult:
    """Let a recording be without the pseudonym; where that cannot be done it is removed.

    Args:
        recording: the recording.
        scan: what was seen of it.
        redactor: knows the pseudonym.
        of_person: whether the session is one of theirs: then what cannot be read of it, and may hold the name, goes too.

    Raises:
        OSError: the disk does not take a copy; that part stands as it was.
    """
    parts = [
        path
        for path in recording.parts
        if path in scan.matching_parts or (of_person and path in scan.truncated_parts)
    ]
    if not parts:
        return RedactionResult.UNCHANGED
    if scan.format_version != FORMAT_VERSION:
        remove_recording(recording)
        return RedactionResult.REMOVED
    try:
        for path in parts:
            redact_part(path, redactor, scan.accepted_requests, truncated=path in scan.truncated_parts)
    except NotRedactableError:
        remove_recording(recording)
        return RedactionResult.REMOVED
    return RedactionResult.REDACTED


def remove_recording(recording: RecordingFiles) -> None:
    """Remove a recording, the last part first, so that what is left of one can still be read.

    Raises:
        OSError: a part cannot be removed.
    """
    for path in reversed(recording.parts):
        path.unlink(missing_ok=True)


def remove_stale_copies(folder: Path) -> None:
    """Remove copies that a killed run left half written."""
    for copy in folder.glob(f"*{COPY_SUFFIX}"):
        copy.unlink(missing_ok=True)


def redact_part(path: Path, redactor: Redactor, accepted_requests: set[int], *, truncated: bool) -> None:
    """Put a copy without the pseudonym in the place of a part.

    Raises:
        OSError: the disk does not take the copy; the original stands as it was.
        Unwritable: a message cannot be written without it.
    """
    copy = path.with_suffix(COPY_SUFFIX)
    copy.unlink(missing_ok=True)
    try:
        with open_private(copy) as out, path.open("rb") as stream:
            _copy_records(stream, out, MessageRedactor(redactor, accepted_requests), truncated=truncated)
            out.flush()
            os.fsync(out.fileno())
        _verify_copy(path, copy, redactor)
        times = path.stat()
        os.utime(copy, (times.st_atime, times.st_mtime))
        copy.replace(path)
        _sync_folder(path.parent)
    finally:
        copy.unlink(missing_ok=True)


def _copy_records(stream: BinaryIO, out: BinaryIO, messages: MessageRedactor, *, truncated: bool) -> None:
    """Copy record by record, as far as the file can be read; what was cut gets no end."""
    writer = Writer(out, chunk_size=_CHUNK_BYTES, compression=CompressionType.ZSTD)
    schemas: dict[int, int] = {}
    channels: dict[int, tuple[int, str]] = {}
    for record in _readable_records(stream):
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
                    raise NotRedactableError(f"message {record.sequence} is of no channel")
                data = messages.redact(topic, record.sequence, record.data)
                writer.add_message(channel, record.log_time, data, record.publish_time, record.sequence)
            case _:
                pass
    (writer.flush if truncated else writer.finish)()  # type: ignore[no-untyped-call]


def _readable_records(stream: BinaryIO) -> Iterator[McapRecord]:
    """The records, up to where the file breaks off or is damaged."""
    reader = StreamReader(stream, emit_chunks=False, validate_crcs=True, record_size_limit=MAX_RECORD_BYTES)
    try:
        yield from reader.records
    except READ_ERRORS:
        return


def _verify_copy(path: Path, copy: Path, redactor: Redactor) -> None:
    """See that the copy has every message, and the pseudonym in none.

    Raises:
        Unwritable: it has not.
    """
    look = scan_recording(RecordingFiles("", [copy]), redactor)
    if look.matching_parts or _count_rows(copy) != _count_rows(path):
        raise NotRedactableError("the copy is not as it must be")


def _count_rows(path: Path) -> int:
    count = 0
    with suppress(TruncatedFileError, NotARecordingError):
        for _ in read_messages(path):
            count += 1
    return count


def _sync_folder(folder: Path) -> None:
    """Let the new name be on the disk too, where the system can do that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
