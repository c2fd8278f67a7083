"""Provides a disk that fails when it is full, or opens no file.

Takes: bytes of room.  Gives: `FailingDisk`, an opener of files.
"""

from __future__ import annotations

import errno
import io
import os
from pathlib import Path
from typing import BinaryIO

from bridge.recording.writer import open_private


class FailingDisk:
    """A disk with one amount of room for all files; an error number in `refused` refuses to open any."""

    def __init__(self, room: int = 10**12, code: int = errno.ENOSPC) -> None:
        """Start empty; `code` is the error number of a disk that is full."""
        self.room, self.code, self.refused = room, code, 0

    def __call__(self, path: Path) -> BinaryIO:
        """Open a file, unless files are refused."""
        if self.refused:
            raise OSError(self.refused, os.strerror(self.refused))
        return _File(path, self)


class _File(io.BytesIO):
    """A file with a file number that fails once the disk is full, with what fitted written."""

    def __init__(self, path: Path, disk: FailingDisk) -> None:
        super().__init__()
        self._real, self._disk = open_private(path), disk

    def write(self, data: bytes) -> int:  # type: ignore[override]
        """Write what fits."""
        fitting = data[: self._disk.room]
        self._disk.room -= len(fitting)
        self._real.write(fitting)
        super().write(fitting)
        if len(fitting) < len(data):
            raise OSError(self._disk.code, os.strerror(self._disk.code))
        return len(data)

    def fileno(self) -> int:
        """Return the number of the real file."""
        return self._real.fileno()

    def close(self) -> None:
        """Close the real file too."""
        self._real.close()
        super().close()
