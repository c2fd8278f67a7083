"""The spool: what was judged goes here, and to the disk, before anybody is told; from here it goes into the store.

One file for each session, `SESSION.spool`: each line is a checksum (CRC-32, eight hexadecimal digits), a space, and a
`Line` as JSON.  A line that was cut, by a kill or a full disk, has no end or a wrong checksum: it was never told, and
counts as not written.

Who writes a spool holds its lock (`SESSION.lock`), which ends with the process, however that ends.

Takes: lines.  Gives: `Spool`, which writes them; `SpoolFile`, which reads them.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from zlib import crc32

import msgspec
from filelock import FileLock, Timeout

from bridge.recording.file_format import encode_message
from bridge.store.spool_records import RecordBody, SpoolRecord, decode

SPOOL_SUFFIX = ".spool"
_PREFIX_BYTES = 9
"""Bytes of a line before its JSON."""


def encode_line(record: SpoolRecord) -> bytes:
    """A line as it stands in the file."""
    data = encode_message(record)
    return b"%08x %s\n" % (crc32(data), data)


def decode_line(data: bytes) -> SpoolRecord | None:
    """A line of the file, with its end; None where it was cut or spoilt."""
    body = data[_PREFIX_BYTES:-1]
    if not data.endswith(b"\n") or data[:_PREFIX_BYTES] != b"%08x " % crc32(body):
        return None
    with suppress(msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return decode(body)
    return None


class SpoolWriter:
    """Writes the lines of one session; each call is on the disk when it returns.

    Attributes:
        trouble: why lines wait in memory; '' where all are on the disk.
    """

    def __init__(self, folder: Path, session: str) -> None:
        """Nothing is written yet, and the file is not made."""
        self.trouble = ""
        self._path = folder / f"{session}{SPOOL_SUFFIX}"
        self._lock = FileLock(self._path.with_suffix(".lock"), timeout=0)
        self._number = 0
        self._synced_bytes = 0
        self._pending: list[bytes] = []
        self._file: int | None = None

    def write(self, utc: float, bodies: Sequence[RecordBody]) -> bool:
        """Put lines on the disk, after those that wait.

        Args:
            utc: when they were judged.
            bodies: what they say.

        Returns:
            Whether they are there; where not, they are kept in memory until the disk takes them.
        """
        for each in bodies:
            self._number += 1
            self._pending.append(encode_line(SpoolRecord(self._number, utc, each)))
        return self.flush()

    def flush(self) -> bool:
        """Try to put on the disk what waits."""
        if not self._pending:
            return True
        try:
            self._append(b"".join(self._pending))
        except (OSError, Timeout) as error:
            self.trouble = getattr(error, "strerror", None) or str(error)
            return False
        self._pending.clear()
        self.trouble = ""
        return True

    @property
    def pending(self) -> int:
        """How many lines are not on the disk."""
        return len(self._pending)

    def close(self) -> None:
        """Write what waits, and give the file to whoever puts it into the store."""
        self.flush()
        if self._file is not None:
            os.close(self._file)
            self._file = None
        self._lock.release()

    def _append(self, data: bytes) -> None:
        """Write behind what is good, and wait for the disk.

        Raises:
            OSError: The disk is full, or fails.
            Timeout: Somebody else writes this session.
        """
        if self._file is None:
            self._file = self._open()
        if os.fstat(self._file).st_size != self._synced_bytes:
            os.ftruncate(self._file, self._synced_bytes)  # half a line, from before the disk was full
        written = 0
        while written < len(data):
            written += os.write(self._file, data[written:])
        os.fsync(self._file)
        self._synced_bytes += len(data)

    def _open(self) -> int:
        self._lock.acquire()
        file = os.open(self._path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        self._synced_bytes = os.fstat(file).st_size
        _sync_folder(self._path.parent)
        return file


class SpoolReader:
    """Reads one spool, from where it was left, and removes it when it is done with."""

    def __init__(self, path: Path) -> None:
        """At its beginning."""
        self.path = path
        self.session = path.name.removesuffix(SPOOL_SUFFIX)
        self._offset = 0
        self._lock = FileLock(path.with_suffix(".lock"), timeout=0)

    def next_records(self, limit: int) -> list[tuple[SpoolRecord, int]]:
        """The next lines, each with where it ends; `read_to` says that they are done with.

        Args:
            limit: how many at most.

        Raises:
            OSError: the file cannot be read.
        """
        found: list[tuple[SpoolRecord, int]] = []
        for data, end in self._remaining_lines():
            line = decode_line(data)
            if line is not None:
                found.append((line, end))
            if len(found) >= limit:
                break
        return found

    def mark_applied(self, offset: int) -> None:
        """All up to there is in the store."""
        self._offset = offset

    def try_lock(self) -> bool:
        """Whether nobody writes it any more; then it is ours until `release` or `remove`."""
        try:
            self._lock.acquire()
        except (Timeout, OSError):
            return False
        return True

    def release(self) -> None:
        """Let go of it."""
        self._lock.release()

    def remove(self) -> None:
        """Remove it; what was cut at its end was never told."""
        self.path.unlink(missing_ok=True)
        self._lock.release()
        with suppress(OSError):
            Path(self._lock.lock_file).unlink()

    def _remaining_lines(self) -> Iterator[tuple[bytes, int]]:
        """Each line behind what is done with, and where it ends."""
        with self.path.open("rb") as file:
            file.seek(self._offset)
            end = self._offset
            for data in file:
                end += len(data)
                yield data, end


def spool_paths(folder: Path) -> list[Path]:
    """The spools of a folder, by their names."""
    return sorted(folder.glob(f"*{SPOOL_SUFFIX}"))


def remove_stale_locks(folder: Path) -> None:
    """Remove the locks of writers that were killed before they wrote anything."""
    for lock in folder.glob("*.lock"):
        if not lock.with_suffix(SPOOL_SUFFIX).exists():
            left = SpoolReader(lock.with_suffix(SPOOL_SUFFIX))
            if left.try_lock():
                if lock.with_suffix(SPOOL_SUFFIX).exists():
                    left.release()
                else:
                    left.remove()


def _sync_folder(folder: Path) -> None:
    """Let a new name be on the disk too, where the system can do that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
