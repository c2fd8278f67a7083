"""Makes files that only their owner can read: findings name persons' errors, and a key lets its reader change a session.

A file that exists keeps its permissions, since its owner may share it on purpose; `close_to_others` is for secrets.

Takes: a path.  Gives: the file.
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

OWNER_ONLY = 0o600
OTHERS = stat.S_IRWXG | stat.S_IRWXO


def make_private(path: Path) -> None:
    """Make an empty file that only its owner can read, unless it exists.

    Raises:
        OSError: It cannot be made.
    """
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY))


def close_to_others(path: Path) -> bool:
    """Take the permissions of others away from a file; return True if they had some.

    Raises:
        OSError: It does not exist, or is not ours.
    """
    if os.name != "posix" or not path.stat().st_mode & OTHERS:
        return False
    path.chmod(OWNER_ONLY)
    return True
