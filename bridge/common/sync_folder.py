"""Synchronises a folder to disk, so that a new or renamed file in it is still there after a power cut.

Takes: a folder.  Gives: nothing.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path


def sync_folder(folder: Path) -> None:
    """Synchronise the entries of a folder to disk, on systems that can do that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
