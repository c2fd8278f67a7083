"""Tells whether a recording is being written: its writer holds a lock on the file, which ends with the process.

A copy of the file is not locked.  Where the system or the file system has no such lock, a file that was touched within
the last minute counts as one that is being written.

Takes: a file.  Gives: `hold`, `is_being_written`.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import IO

ACTIVE_WITHIN_S = 60.0
"""A recorder touches its file every ten seconds."""


def hold(stream: IO[bytes]) -> None:
    """Lock a file that is written from now on, until it is closed; nothing happens where that is not possible."""
    with suppress(OSError, ValueError):
        if sys.platform != "win32":
            import fcntl

            fcntl.flock(stream.fileno(), fcntl.LOCK_EX)


def is_being_written(path: Path, wall_clock: Callable[[], float] = time.time) -> bool:
    """Tell whether a writer holds a file.

    Args:
        path: The file.
        wall_clock: Seconds since 1970.
    """
    try:
        with path.open("rb") as stream:
            return _is_locked(stream)
    except FileNotFoundError:
        return False
    except OSError:
        return is_recent(path, wall_clock)


def is_recent(path: Path, wall_clock: Callable[[], float] = time.time) -> bool:
    """Tell whether a file was touched within the last minute, as one that is being written is."""
    try:
        return abs(wall_clock() - path.stat().st_mtime) < ACTIVE_WITHIN_S
    except OSError:
        return False


def _is_locked(stream: IO[bytes]) -> bool:
    """Tell whether another open file of the same name holds the lock.

    Raises:
        OSError: There are no locks here.
    """
    if sys.platform == "win32":
        raise OSError
    import fcntl

    try:
        fcntl.flock(stream.fileno(), fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    return False
