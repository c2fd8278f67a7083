"""Writes and reads spools: a spool is a file on disk in which events wait until the database has stored them.

An event is in its spool before it is published; where the disk refuses it waits in memory, which is shown.  One file for each session, `SESSION.spool`: each line is a checksum (CRC-32, eight hexadecimal digits), a space, and a
`SpoolRecord` as JSON.  A line that was cut by a kill or a full disk has no end or a wrong checksum; its events were
never published, and it counts as not written.

    3f2a9c01 {"number":1,"utc":1795579200.0,"body":{"type":"start", ...}}
    91bb04e7 {"number":2,"utc":1795579203.5,"body":{"type":"phase", ...}}
    5c0d11a2 {"number":3,"utc":17955                        cut: no line end

The writer of a spool locks `SESSION.lock`; the lock ends with the process, however that ends.

Takes: record bodies.  Gives: `SpoolWriter` and `SpoolReader`.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from zlib import crc32

import msgspec
from filelock import FileLock, Timeout

from bridge.common.sync_folder import sync_folder
from bridge.recording.file_format import encode_message
from bridge.store.spool_records import RecordBody, SpoolRecord, decode

SPOOL_SUFFIX = ".spool"
_PREFIX_BYTES = 9
"""Bytes of a line before its JSON."""


def encode_line(record: SpoolRecord) -> bytes:
    """Encode a record as a line of the file."""
    data = encode_message(record)
    return b"%08x %s\n" % (crc32(data), data)


def decode_line(data: bytes) -> SpoolRecord | None:
    """Decode a line of the file with its end; None if it was cut or damaged."""
    body = data[_PREFIX_BYTES:-1]
    if not data.endswith(b"\n") or data[:_PREFIX_BYTES] != b"%08x " % crc32(body):
        return None
    with suppress(msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return decode(body)
    return None


class SpoolWriter:
    """Writes the records of one session; each call returns when they are on disk.

    Attributes:
        problem: The reason why records wait in memory; '' if all are on disk.
    """

    def __init__(self, folder: Path, session: str) -> None:
        """Prepare the spool; the file is created with the first record."""
        self.problem = ""
        self._path = folder / f"{session}{SPOOL_SUFFIX}"
        self._lock = FileLock(self._path.with_suffix(".lock"), timeout=0)
        self._number = 0
        self._synced_bytes = 0
        self._pending: list[bytes] = []
        self._file: int | None = None

    def write(self, utc: float, bodies: Sequence[RecordBody]) -> bool:
        """Write records to disk, after those that wait.

        Args:
            utc: When they were judged, in seconds since 1970.
            bodies: The bodies of the records.

        Returns:
            True if they are on disk; otherwise they wait in memory until the disk accepts them.
        """
        for body in bodies:
            self._number += 1
            self._pending.append(encode_line(SpoolRecord(self._number, utc, body)))
        return self.flush()

    def flush(self) -> bool:
        """Write the records that wait in memory; return False if the disk refuses them."""
        if not self._pending:
            return True
        try:
            self._append(b"".join(self._pending))
        except (OSError, Timeout) as error:
            self.problem = getattr(error, "strerror", None) or str(error)
            return False
        self._pending.clear()
        self.problem = ""
        return True

    @property
    def pending(self) -> int:
        """The number of records that are not on disk."""
        return len(self._pending)

    def unwritten(self) -> list[bytes]:
        """Return the records that are not on disk, each as JSON with the session."""
        session = self._path.stem.encode()
        return [b'{"session":"%s","record":%s}' % (session, line[_PREFIX_BYTES:-1]) for line in self._pending]

    def close(self) -> None:
        """Write the records that wait, and release the file for the writer of the store.

        While the disk refuses them the spool stays open: call this again, or take what is `unwritten`.
        """
        if not self.flush():
            return
        if self._file is not None:
            os.close(self._file)
            self._file = None
        self._lock.release()

    def _append(self, data: bytes) -> None:
        """Append after the last complete line, and wait for the disk.

        Raises:
            OSError: The disk is full or fails.
            Timeout: Another process writes this session.
        """
        if self._file is None:
            self._file = self._open()
        if os.fstat(self._file).st_size != self._synced_bytes:
            os.ftruncate(self._file, self._synced_bytes)  # remove half a line from before the disk was full
        written = 0
        while written < len(data):
            written += os.write(self._file, data[written:])
        os.fsync(self._file)
        self._synced_bytes += len(data)

    def _open(self) -> int:
        self._lock.acquire()
        file = os.open(self._path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        self._synced_bytes = os.fstat(file).st_size
        sync_folder(self._path.parent)
        return file


class SpoolReader:
    """Reads one spool from the last applied position, and removes it when it is finished.

    Attributes:
        last_number: The number of the last record that was read; 0 before the first.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.session = path.name.removesuffix(SPOOL_SUFFIX)
        self.last_number = 0
        self._offset = 0
        self._lock = FileLock(path.with_suffix(".lock"), timeout=0)

    def next_records(self, limit: int) -> list[tuple[SpoolRecord, int]]:
        """Read the next records, each with the position of its end; `mark_applied` moves past them.

        Args:
            limit: The largest number of records.

        Raises:
            OSError: The file cannot be read.
        """
        records: list[tuple[SpoolRecord, int]] = []
        for data, end in self._remaining_lines():
            record = decode_line(data)
            if record is not None:
                records.append((record, end))
                self.last_number = record.number
            if len(records) >= limit:
                break
        return records

    def mark_applied(self, offset: int) -> None:
        """Continue reading after this position."""
        self._offset = offset

    def try_lock(self) -> bool:
        """Lock the spool until `release` or `remove`; return False if its writer still runs."""
        try:
            self._lock.acquire()
        except (Timeout, OSError):
            return False
        return True

    def release(self) -> None:
        """Release the lock."""
        self._lock.release()

    def remove(self) -> None:
        """Remove the spool and its lock; an incomplete line at its end was never published."""
        self.path.unlink(missing_ok=True)
        self._lock.release()
        with suppress(OSError):
            Path(self._lock.lock_file).unlink()

    def _remaining_lines(self) -> Iterator[tuple[bytes, int]]:
        """Yield each line after the applied position, and its end."""
        with self.path.open("rb") as file:
            file.seek(self._offset)
            end = self._offset
            for data in file:
                end += len(data)
                yield data, end


def spool_paths(folder: Path) -> list[Path]:
    """List the spools of a folder by name."""
    return sorted(folder.glob(f"*{SPOOL_SUFFIX}"))


def remove_stale_locks(folder: Path) -> None:
    """Remove the locks of writers that were killed before their first record."""
    for lock in folder.glob("*.lock"):
        if not lock.with_suffix(SPOOL_SUFFIX).exists():
            reader = SpoolReader(lock.with_suffix(SPOOL_SUFFIX))
            if reader.try_lock():
                if lock.with_suffix(SPOOL_SUFFIX).exists():
                    reader.release()
                else:
                    reader.remove()
