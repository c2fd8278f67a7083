"""The messages of one MCAP file in the order in which they were written, as far as the file goes.

The library reads the file's records and unpacks its chunks; the messages in a chunk are taken apart here, since there are
a hundred thousand in an hour.  The summary at the end is not needed.

Takes: a path.  Gives: `Row`s; `Broken` where the file ends too early or is damaged.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import BinaryIO, NamedTuple

import zstandard
from mcap.data_stream import ReadDataStream
from mcap.exceptions import McapError
from mcap.opcode import Opcode
from mcap.records import Channel, Chunk, Footer, Header
from mcap.stream_reader import CRCValidationError, StreamReader, get_chunk_data_stream

from bridge.recording.file_format import PROFILE

MAX_RECORD_BYTES = 1 << 26
"""Bytes of the largest record that is read: more than sixty times a chunk of ours."""
MAGIC = b"\x89MCAP0\r\n"
_RECORD = struct.Struct("<BQ")
_MESSAGE = struct.Struct("<HIQQ")
READ_ERRORS = (
    McapError,
    CRCValidationError,
    zstandard.ZstdError,
    struct.error,
    ValueError,
    MemoryError,
    OverflowError,
)
"""How a file that is cut or damaged shows."""


class McapMessage(NamedTuple):
    """One message: channel, sequence, the wall's clock (seconds since 1970), the simulator's, and the JSON."""

    topic: str
    sequence: int
    utc: float
    sim_s: float
    data: bytes


class TruncatedFileError(Exception):
    """The file cannot be read beyond this byte; all rows before it were given."""

    def __init__(self, offset: int, why: str) -> None:
        """Say where and why."""
        super().__init__(f"byte {offset}: {why}")
        self.offset = offset
        self.why = why


class NotARecordingError(Exception):
    """The file is no recording of ours; says what it is instead."""


def read_messages(path: Path) -> Iterator[McapMessage]:
    """Read a file from its beginning.

    Args:
        path: The file.

    Yields:
        Every message that can be read.

    Raises:
        ForeignError: It is no MCAP file, or one of another program.
        Broken: It ends before its end, or is damaged.
        OSError: It cannot be opened or read.
    """
    with path.open("rb") as stream:
        _check_magic(stream)
        channels: dict[int, str] = {}
        complete, offset = False, len(MAGIC)
        reader = StreamReader(stream, skip_magic=True, emit_chunks=True, record_size_limit=MAX_RECORD_BYTES)
        try:
            for record in reader.records:
                if isinstance(record, Header) and record.profile != PROFILE:
                    raise NotARecordingError(
                        f"an MCAP file of another program ({record.library or 'not named'})"
                    )
                if isinstance(record, Chunk):
                    yield from _chunk_messages(record, channels)
                complete = complete or isinstance(record, Footer)
                offset = stream.tell()
        except READ_ERRORS as error:
            if not complete:  # behind the footer nothing is missing any more
                raise TruncatedFileError(offset, str(error) or "the file ends here") from None


def _check_magic(stream: BinaryIO) -> None:
    """See that it is an MCAP file."""
    begun = stream.read(len(MAGIC))
    if begun != MAGIC:
        if MAGIC.startswith(begun):
            raise TruncatedFileError(len(begun), "the file ends here")
        raise NotARecordingError("no MCAP file")


def _chunk_messages(chunk: Chunk, channels: dict[int, str]) -> list[McapMessage]:
    """The messages of a chunk, whole or not at all; its channels are noted."""
    if chunk.uncompressed_size > MAX_RECORD_BYTES:
        raise ValueError(f"a chunk of {chunk.uncompressed_size} bytes")
    packed, length = get_chunk_data_stream(chunk, validate_crc=True)
    data, at, rows = packed.read(length), 0, list[McapMessage]()
    while at < length:
        opcode, size = _RECORD.unpack_from(data, at)
        at += _RECORD.size
        if opcode == Opcode.MESSAGE:
            channel, sequence, log_ns, sim_ns = _MESSAGE.unpack_from(data, at)
            body = data[at + _MESSAGE.size : at + size]
            rows.append(
                McapMessage(channels.get(channel, ""), sequence, log_ns // 1000 / 1e6, sim_ns / 1e9, body)
            )
        elif opcode == Opcode.CHANNEL:
            told = Channel.read(ReadDataStream(BytesIO(data[at : at + size])))
            channels[told.id] = told.topic
        at += size
    return rows
