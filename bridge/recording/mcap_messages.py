"""Reads the messages of one MCAP file in the order of writing, as far as the file can be read.

The library reads the records of the file.  Chunks are decompressed here, since a file may lie about their size: the header
of a chunk, the frame in it and the data must agree, and only then memory is reserved.  Messages within a chunk are parsed
here too, which is faster: an hour has a hundred thousand of them.  The summary at the end of the file is not needed.

Takes: a path.  Gives: `McapMessage`s; `TruncatedFileError` if the file ends too early or is damaged.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import BinaryIO, NamedTuple

import zstandard
from mcap.data_stream import ReadDataStream
from mcap.exceptions import McapError
from mcap.opcode import Opcode
from mcap.records import Channel, Chunk, Footer, Header
from mcap.stream_reader import StreamReader

from bridge.recording.clean_body import clean_body
from bridge.recording.file_format import PROFILE

MAX_RECORD_BYTES = 1 << 26
"""The largest record that is read, in bytes: more than sixty times the size of our chunks."""
MAX_CHUNK_BYTES = 1 << 24
"""The largest chunk that is read, decompressed, in bytes: sixteen times the size of ours."""
MAGIC = b"\x89MCAP0\r\n"
_RECORD = struct.Struct("<BQ")
_MESSAGE = struct.Struct("<HIQQ")
_DECOMPRESSOR = zstandard.ZstdDecompressor()
READ_ERRORS = (
    McapError,
    zstandard.ZstdError,
    struct.error,
    ValueError,
    MemoryError,
    OverflowError,
)
"""Exceptions of the libraries for a file that is cut or damaged."""


class McapMessage(NamedTuple):
    """One message: channel, sequence, wall clock (seconds since 1970), simulator time, and its JSON."""

    topic: str
    sequence: int
    utc: float
    sim_s: float
    data: bytes


class TruncatedFileError(Exception):
    """The file cannot be read beyond this byte; all messages before it were returned."""

    def __init__(self, offset: int, why: str) -> None:
        super().__init__(f"byte {offset}: {why}")
        self.offset = offset
        self.why = why


class NotARecordingError(Exception):
    """The file is not a recording of this program; the text names what it is instead."""


def read_messages(path: Path) -> Iterator[McapMessage]:
    """Read a file from its beginning.

    Args:
        path: The file.

    Yields:
        Every message that can be read.

    Raises:
        NotARecordingError: The file is not MCAP, or another program wrote it.
        TruncatedFileError: The file is cut or damaged.
        OSError: The file cannot be opened or read.
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
            if not complete:  # no message follows the footer
                raise TruncatedFileError(offset, str(error) or "the file ends here") from None


def _check_magic(stream: BinaryIO) -> None:
    """Check the first bytes of the file."""
    start = stream.read(len(MAGIC))
    if start != MAGIC:
        if MAGIC.startswith(start):
            raise TruncatedFileError(len(start), "the file ends here")
        raise NotARecordingError("no MCAP file")


def _chunk_messages(chunk: Chunk, channels: dict[int, str]) -> list[McapMessage]:
    """Return the messages of a chunk, all or none; note the channels that it declares.

    A chunk is a row of records: opcode (1 byte), length (8 bytes), body.  The body of a message starts with channel
    (2 bytes), sequence (4), log time (8) and publish time (8):

        05 | length | channel sequence log_time publish_time | JSON ...
    """
    data, at, messages = _chunk_data(chunk), 0, list[McapMessage]()
    length = len(data)
    while at < length:
        opcode, size = _RECORD.unpack_from(data, at)
        if not opcode:
            raise ValueError("a record of no kind")  # a chunk of zeros would be millions of them
        at += _RECORD.size
        if opcode == Opcode.MESSAGE:
            channel, sequence, log_ns, sim_ns = _MESSAGE.unpack_from(data, at)
            body = clean_body(data[at + _MESSAGE.size : at + size])
            messages.append(
                McapMessage(channels.get(channel, ""), sequence, log_ns // 1000 / 1e6, sim_ns / 1e9, body)
            )
        elif opcode == Opcode.CHANNEL:
            declared = Channel.read(ReadDataStream(BytesIO(data[at : at + size])))
            channels[declared.id] = declared.topic
        at += size
    return messages


def _chunk_data(chunk: Chunk) -> bytes:
    """Decompress a chunk.

    Raises:
        ValueError: Its sizes disagree or are too large, or its check sum is wrong.
        ZstdError: It cannot be decompressed.
    """
    size = chunk.uncompressed_size
    if size > MAX_CHUNK_BYTES:
        raise ValueError(f"a chunk of {size} bytes, at most {MAX_CHUNK_BYTES}")
    if chunk.compression not in ("", "zstd"):
        raise ValueError(f"a chunk compressed by {chunk.compression[:20]!r}")
    data = chunk.data
    if chunk.compression:
        frame = zstandard.get_frame_parameters(data)
        stated = frame.content_size
        if stated not in (size, zstandard.CONTENTSIZE_UNKNOWN):
            raise ValueError(f"a chunk of {size} bytes whose content has {stated}")
        if frame.window_size > MAX_CHUNK_BYTES:
            raise ValueError(f"a chunk that needs {frame.window_size} bytes to be read")
        data = _DECOMPRESSOR.decompress(data, max_output_size=size)
    if len(data) != size:
        raise ValueError(f"a chunk of {len(data)} bytes whose header says {size}")
    if chunk.uncompressed_crc and zlib.crc32(data) != chunk.uncompressed_crc:
        raise ValueError("a chunk whose check sum is wrong")
    return data
