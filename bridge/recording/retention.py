"""The folder of recordings: which there are, and making room where they are too many.

A recording is all its parts.  The oldest go first, by the time at which they were begun, which their names say; never one that is
written now, by this program or another: what was touched within the last minute is being written.

Takes: a folder and a budget.  Gives: `Kept`, and what was removed.
"""

from __future__ import annotations

import re
import shutil
import time
from collections.abc import Callable, Collection
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from bridge.recording.writer import SUFFIX

ACTIVE_WITHIN_S = 60.0
"""Who writes touches its file each ten seconds."""
_PART = re.compile(r"\.(\d+)$")


@dataclass(slots=True)
class RecordingFiles:
    """One recording in the folder: its parts in their order, their bytes, and when one was last touched (since 1970)."""

    stem: str
    parts: list[Path] = field(default_factory=list)
    size: int = 0
    modified_utc: float = 0.0


def recording_stem(began_utc: float, device: str, session: str) -> str:
    """The name of a recording: when it began (UTC), on what, and the beginning of the session's own name."""
    began = datetime.fromtimestamp(began_utc, UTC)
    return f"{began:%Y%m%dT%H%M%SZ}-{device}-{session[:8]}"


def split_part(path: Path) -> tuple[str, int]:
    """A file's recording and the number of the part."""
    stem = path.name.removesuffix(SUFFIX)
    found = _PART.search(stem)
    return (stem[: found.start()], int(found[1])) if found else (stem, 1)


def list_recordings(folder: Path) -> list[RecordingFiles]:
    """All recordings of a folder, the oldest first."""
    found: dict[str, RecordingFiles] = {}
    for path in sorted(folder.glob(f"*{SUFFIX}"), key=split_part):
        stem, _ = split_part(path)
        with suppress(OSError):  # somebody else removed it
            told = path.stat()
            kept = found.setdefault(stem, RecordingFiles(stem))
            kept.parts.append(path)
            kept.size += told.st_size
            kept.modified_utc = max(kept.modified_utc, told.st_mtime)
    return sorted(found.values(), key=lambda kept: kept.stem)


def prune_to_budget(
    folder: Path, budget: int, active_stems: Collection[str], wall_clock: Callable[[], float] = time.time
) -> list[str]:
    """Remove the oldest recordings until all of them fit.

    Args:
        folder: Where they are.
        budget: Bytes of all together.
        active_stems: Names of those that are written now.
        wall_clock: Seconds since 1970.

    Returns:
        The names of what was removed.
    """
    kept, removed = list_recordings(folder), list[str]()
    size = sum(each.size for each in kept)
    for each in kept:
        if size <= budget:
            break
        if each.stem in active_stems or abs(wall_clock() - each.modified_utc) < ACTIVE_WITHIN_S:
            continue
        for path in reversed(each.parts):  # so that what is left of one can still be read from its beginning
            with suppress(OSError):
                path.unlink()
        size -= each.size
        removed.append(each.stem)
    return removed


def total_bytes(folder: Path) -> int:
    """Bytes of all recordings."""
    return sum(each.size for each in list_recordings(folder))


def free_bytes(folder: Path) -> int:
    """What the disk has left.

    Raises:
        OSError: The folder is gone.
    """
    return shutil.disk_usage(folder).free
