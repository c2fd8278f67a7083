"""Tests of recordings that lie about sizes: they are refused with a reason, and no memory is reserved for the lie."""

from __future__ import annotations

import io
import tracemalloc
import zlib
from pathlib import Path

import pytest
import zstandard
from mcap.data_stream import RecordBuilder
from mcap.records import Chunk, Header

from bridge.recording.file_format import PROFILE
from bridge.recording.mcap_messages import MAGIC, MAX_CHUNK_BYTES, TruncatedFileError, read_messages

MEMORY_BYTES = 4 * MAX_CHUNK_BYTES


def compressed(data: bytes, *, with_size: bool = True) -> bytes:
    """Compress data, with or without its size in the frame."""
    return zstandard.ZstdCompressor(write_content_size=with_size).compress(data)


def zeros(count: int) -> bytes:
    """Compress many zeros in pieces, without keeping them; the frame does not say how many."""
    written = io.BytesIO()
    with zstandard.ZstdCompressor().stream_writer(written, closefd=False) as writer:
        for _ in range(count // MAX_CHUNK_BYTES):
            writer.write(bytes(MAX_CHUNK_BYTES))
    return written.getvalue()


def stated(size: int) -> bytes:
    """A frame that states a size of eight bytes, and has a block of nothing (RFC 8878, 3.1.1)."""
    return b"\x28\xb5\x2f\xfd" + b"\xe0" + size.to_bytes(8, "little") + b"\x01\x00\x00"


def file_with(path: Path, data: bytes, size: int, compression: str = "zstd", crc: int = 0) -> Path:
    """Write a recording with one chunk."""
    builder = RecordBuilder()
    Header(profile=PROFILE, library="x").write(builder)
    Chunk(
        compression=compression,
        data=data,
        message_start_time=0,
        message_end_time=0,
        uncompressed_crc=crc,
        uncompressed_size=size,
    ).write(builder)
    path.write_bytes(MAGIC + builder.end())  # type: ignore[no-untyped-call]
    return path


LIES: list[tuple[str, bytes, int, str, int, str]] = [
    ("frame larger than header", stated(6 << 30), 1000, "zstd", 0, "whose content has 6442450944"),
    ("header larger than frame", compressed(b"x" * 100), 1000, "zstd", 0, "whose content has 100"),
    ("both large", stated(6 << 30), 6 << 30, "zstd", 0, "at most 16777216"),
    ("content larger than header", zeros(1 << 28), 1000, "zstd", 0, ""),
    ("large, not stated", zeros(1 << 28), MAX_CHUNK_BYTES, "zstd", 0, ""),
    (
        "less than the header says",
        compressed(b"x", with_size=False),
        1000,
        "zstd",
        0,
        "whose header says 1000",
    ),
    ("zeros", compressed(bytes(MAX_CHUNK_BYTES)), MAX_CHUNK_BYTES, "zstd", 0, "a record of no kind"),
    ("not compressed, wrong size", b"x" * 100, 1000, "", 0, "whose header says 1000"),
    ("unknown compression", b"x", 1000, "lz4", 0, "compressed by 'lz4'"),
    ("wrong check sum", b"\x05" * 100, 100, "", zlib.crc32(b"") + 1, "check sum"),
]


@pytest.mark.parametrize(
    ("data", "size", "compression", "crc", "why"),
    [lie[1:] for lie in LIES],
    ids=[lie[0] for lie in LIES],
)
def test_a_chunk_that_lies_is_refused(
    tmp_path: Path, data: bytes, size: int, compression: str, crc: int, why: str
) -> None:
    """The file ends where the lie begins; before a size is believed, header, frame and content must agree."""
    path = file_with(tmp_path / "lie.mcap", data, size, compression, crc)
    tracemalloc.start()
    try:
        with pytest.raises(TruncatedFileError) as caught:
            list(read_messages(path))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert why in str(caught.value)
    assert peak < MEMORY_BYTES
