"""Rewrites recordings without the pseudonym of a person.

Messages are copied with their numbers and times; only texts of people change.  The recording therefore still plays,
and replaying it gives the recorded events to the byte.  The copy is read back and synchronised to disk before it
replaces the original.  A recording that was cut is copied up to the cut, and stays cut there.

Takes: a recording, a `Redactor`.  Gives: a recording without the pseudonym.
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

from bridge.common.sync_folder import sync_folder
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
from bridge.recording.recording_budget import RecordingFiles
from bridge.recording.writer import open_private

COPY_SUFFIX = ".copy"
_CHUNK_BYTES = 1 << 20


class RedactionResult(StrEnum):
    """The result for one recording."""

    UNCHANGED = "unchanged"
    REDACTED = "redacted"
    REMOVED = "removed"


@dataclass(slots=True)
class RecordingScan:
    """The result of a scan of one recording.

    Attributes:
        session: The id of its session; '' if its head cannot be read.
        format_version: The version of its head; 0 if it cannot be read.
        matching_parts: Parts with the pseudonym.
        truncated_parts: Parts that cannot be read to their end.
        names_person: True if a seat or a requester has the pseudonym.
        accepted_requests: The numbers of requests that caused an event.
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
        """Scan one message."""
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
        """Check the messages with a possible match, now that accepted requests are known."""
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
            request = msgspec.json.decode(row.data, type=_RequestFields)
            self.names_person = (
                self.names_person
                or redactor.matches(request.by)
                or (request.verb == "assign_seat" and redactor.matches(request.reason))
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
    """Scan a recording.

    Raises:
        OSError: A part cannot be read.
    """
    scan = RecordingScan()
    for path in recording.parts:
        try:
            for row in read_messages(path):
                scan.add(path, row, redactor)
        except (TruncatedFileError, NotARecordingError):
            scan.truncated_parts.append(path)
    scan.finish(redactor)
    return scan


def redact_recording(
    recording: RecordingFiles, scan: RecordingScan, redactor: Redactor, *, of_person: bool
) -> RedactionResult:
    """Rewrite a recording without the pseudonym; remove it if that is impossible.

    Args:
        recording: The recording.
        scan: The result of its scan.
        redactor: The redactor of the pseudonym.
        of_person: True for a session of the person: parts that cannot be read, and may contain the name, are removed too.

    Raises:
        OSError: The disk refuses a copy; the part is unchanged.
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
    """Remove a recording, the last part first, so that what remains can be read from the start.

    Raises:
        OSError: A part cannot be removed.
    """
    for path in reversed(recording.parts):
        path.unlink(missing_ok=True)


def remove_stale_copies(folder: Path) -> None:
    """Remove incomplete copies of a run that was killed."""
    for copy in folder.glob(f"*{COPY_SUFFIX}"):
        copy.unlink(missing_ok=True)


def redact_part(path: Path, redactor: Redactor, accepted_requests: set[int], *, truncated: bool) -> None:
    """Replace a part by a copy without the pseudonym.

    Raises:
        OSError: The disk refuses the copy; the original is unchanged.
        NotRedactableError: A message cannot be written without the pseudonym.
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
        sync_folder(path.parent)
    finally:
        copy.unlink(missing_ok=True)


def _copy_records(stream: BinaryIO, out: BinaryIO, messages: MessageRedactor, *, truncated: bool) -> None:
    """Copy the records that can be read; the copy of a truncated file gets no end."""
    writer = Writer(out, chunk_size=_CHUNK_BYTES, compression=CompressionType.ZSTD)
    schemas: dict[int, int] = {}
    channels: dict[int, tuple[int, str]] = {}
    for record in _readable_records(stream):
        match record:
            case Header():
                writer.start(profile=record.profile, library=record.library)
            case Schema() if record.id not in schemas:  # the summary repeats them
                schemas[record.id] = writer.register_schema(record.name, record.encoding, record.data)
            case Channel() if record.id not in channels:
                schema = schemas.get(record.schema_id, 0)
                new_channel = writer.register_channel(
                    record.topic, record.message_encoding, schema, record.metadata
                )
                channels[record.id] = new_channel, record.topic
            case Message():
                channel, topic = channels.get(record.channel_id, (0, ""))
                if not channel:
                    raise NotRedactableError(f"message {record.sequence} has no channel")
                data = messages.redact(topic, record.sequence, record.data)
                writer.add_message(channel, record.log_time, data, record.publish_time, record.sequence)
            case _:
                pass
    (writer.flush if truncated else writer.finish)()  # type: ignore[no-untyped-call]


def _readable_records(stream: BinaryIO) -> Iterator[McapRecord]:
    """Yield the records up to the place where the file is cut or damaged."""
    reader = StreamReader(stream, emit_chunks=False, validate_crcs=True, record_size_limit=MAX_RECORD_BYTES)
    try:
        yield from reader.records
    except READ_ERRORS:
        return


def _verify_copy(path: Path, copy: Path, redactor: Redactor) -> None:
    """Check that the copy has every message, and none with the pseudonym.

    Raises:
        NotRedactableError: The copy is wrong.
    """
    scan = scan_recording(RecordingFiles("", [copy]), redactor)
    if scan.matching_parts or _count_rows(copy) != _count_rows(path):
        raise NotRedactableError("the copy is not complete, or still has the pseudonym")


def _count_rows(path: Path) -> int:
    count = 0
    with suppress(TruncatedFileError, NotARecordingError):
        for _ in read_messages(path):
            count += 1
    return count
