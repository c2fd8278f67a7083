"""Recordings without a person's pseudonym.

All messages are copied as they are, with their numbers and times, but for requests, notes and what else people wrote; so the
recording still plays, and still gives to the byte what it says was told.  The copy takes the place of the original when it is
whole and on the disk.  A recording that was cut is copied as far as it goes.

Takes: a recording's part, a `Blot`.  Gives: a part without the pseudonym.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import msgspec
from mcap.records import Channel, Header, McapRecord, Message, Schema
from mcap.stream_reader import StreamReader
from mcap.writer import CompressionType, Writer

from bridge.people.names import Blot
from bridge.record.form import ENTRY, HEAD, PICTURE, REQUEST
from bridge.record.rows import TROUBLES, Broken, ForeignError, read_rows
from bridge.record.writer import open_new

COPY = ".copy"
_CHUNK_BYTES = 1 << 20


def named_in(path: Path, blot: Blot) -> bool:
    """Whether the pseudonym stands in a part of a recording; what cannot be read holds nothing that can be found.

    Args:
        path: the part.
        blot: knows the pseudonym.
    """
    return any(_rewritten(topic, data, blot) != data for topic, data in _readable(path))


def rewrite(path: Path, blot: Blot) -> None:
    """Put a copy without the pseudonym in the place of a part.

    Raises:
        OSError: the disk does not take the copy; the original stands as it was.
    """
    copy = path.with_suffix(COPY)
    copy.unlink(missing_ok=True)
    try:
        with open_new(copy) as out, path.open("rb") as stream:
            writer = Writer(out, chunk_size=_CHUNK_BYTES, compression=CompressionType.ZSTD)
            _copy(StreamReader(stream, emit_chunks=False), writer, blot)
            writer.finish()  # type: ignore[no-untyped-call]
            out.flush()
            os.fsync(out.fileno())
        times = path.stat()
        os.utime(copy, (times.st_atime, times.st_mtime))
        copy.replace(path)
    finally:
        copy.unlink(missing_ok=True)


def _copy(reader: StreamReader, writer: Writer, blot: Blot) -> None:
    """Copy record by record, as far as the file can be read."""
    schemas: dict[int, int] = {}
    channels: dict[int, tuple[int, str]] = {}
    for record in _records(reader):
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
                channel, topic = channels[record.channel_id]
                data = _rewritten(topic, record.data, blot)
                writer.add_message(channel, record.log_time, data, record.publish_time, record.sequence)
            case _:
                pass


def _records(reader: StreamReader) -> Iterator[McapRecord]:
    """The records, up to where the file breaks off."""
    records = reader.records
    with suppress(*TROUBLES):
        yield from records


def _readable(path: Path) -> Iterator[tuple[str, bytes]]:
    """What people's words can stand in, up to where the file breaks off."""
    with suppress(Broken, ForeignError, OSError):
        for row in read_rows(path):
            if _written(row.topic):
                yield row.topic, row.data


def _written(topic: str) -> bool:
    """Whether people's words can stand in the messages of a channel."""
    return topic in _WRITTEN or topic.startswith(ENTRY)


def _rewritten(topic: str, data: bytes, blot: Blot) -> bytes:
    """A message without the pseudonym; the same bytes where it does not stand in it."""
    if not _written(topic) or not blot.stands_in(data.decode(errors="replace")):
        return data
    fields = msgspec.json.decode(data)
    changed = _WRITTEN.get(topic, Blot.told)(blot, fields)
    return data if changed == fields else msgspec.json.encode(changed)


_WRITTEN: dict[str, Callable[[Blot, dict[str, Any]], dict[str, Any]]] = {
    HEAD: Blot.head,
    PICTURE: Blot.picture,
    REQUEST: Blot.request,
}
