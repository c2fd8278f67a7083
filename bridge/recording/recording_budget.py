"""Lists the recordings of a folder and removes the oldest where they take too much space.

A recording is all its parts.  The oldest go first, by the start time in their names.  A recording that is being
written, by this program or another, is never removed: one that was touched within the last minute counts as such.

Takes: a folder and a budget in bytes.  Gives: `RecordingFiles`, and the names of removed recordings.
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

from bridge.recording.live_file import ACTIVE_WITHIN_S, is_being_written
from bridge.recording.writer import SUFFIX

MB = 1_000_000
_PART = re.compile(r"\.(\d+)$")


@dataclass(slots=True)
class RecordingFiles:
    """One recording: its parts in order, their total size in bytes, and when one was last touched (seconds since 1970)."""

    stem: str
    parts: list[Path] = field(default_factory=list)
    size: int = 0
    modified_utc: float = 0.0


def recording_stem(began_utc: float, device: str, session: str) -> str:
    """Return the name of a recording: its start (UTC), the device, and eight characters of the session id."""
    began = datetime.fromtimestamp(began_utc, UTC)
    return f"{began:%Y%m%dT%H%M%SZ}-{device}-{session[:8]}"


def split_part(path: Path) -> tuple[str, int]:
    """Return the name of a file's recording and the number of the part."""
    stem = path.name.removesuffix(SUFFIX)
    found = _PART.search(stem)
    return (stem[: found.start()], int(found[1])) if found else (stem, 1)


def list_recordings(folder: Path) -> list[RecordingFiles]:
    """List all recordings of a folder, the oldest first."""
    found: dict[str, RecordingFiles] = {}
    for path in sorted(folder.glob(f"*{SUFFIX}"), key=split_part):
        stem, _ = split_part(path)
        with suppress(OSError):  # another program removed it
            status = path.stat()
            recording = found.setdefault(stem, RecordingFiles(stem))
            recording.parts.append(path)
            recording.size += status.st_size
            recording.modified_utc = max(recording.modified_utc, status.st_mtime)
    return sorted(found.values(), key=lambda recording: recording.stem)


def prune_to_budget(
    folder: Path, budget: int, active_stems: Collection[str], wall_clock: Callable[[], float] = time.time
) -> list[str]:
    """Remove the oldest recordings until the rest fits.

    Args:
        folder: The folder of recordings.
        budget: Bytes of all together.
        active_stems: Names of recordings that are being written.
        wall_clock: Seconds since 1970.

    Returns:
        The names of removed recordings.
    """
    recording, removed = list_recordings(folder), list[str]()
    size = sum(each.size for each in recording)
    for each in recording:
        if size <= budget:
            break
        touched = abs(wall_clock() - each.modified_utc) < ACTIVE_WITHIN_S
        if touched or each.stem in active_stems or is_being_written(each.parts[-1], wall_clock):
            continue
        for path in reversed(each.parts):  # what remains can then be read from the start
            with suppress(OSError):
                path.unlink()
        size -= each.size
        removed.append(each.stem)
    return removed


def over_share(folder: Path, budget: int, stem: str, wall_clock: Callable[[], float] = time.time) -> str:
    """Return why a recording that is being written must end for the budget; '' where it may go on.

    Recordings that are written at the same time share the budget equally.  One that has less than its share is never ended
    for the size of others: those end, or are removed soon because they have ended already.

    Args:
        folder: The folder of recordings, of which the oldest were removed.
        budget: Bytes of all together.
        stem: The name of the recording.
        wall_clock: Seconds since 1970.
    """
    live = [
        each
        for each in list_recordings(folder)
        if each.stem == stem or is_being_written(each.parts[-1], wall_clock)
    ]
    size = sum(each.size for each in live if each.stem == stem)
    if size > budget:
        return f"this recording alone fills the {budget // MB} MB that recordings may take"
    if sum(each.size for each in live) > budget and size * len(live) > budget:
        return (
            f"this recording takes {size / MB:.1f} MB, more than its share of the {budget // MB} MB that "
            f"the {len(live)} recordings written now may take"
        )
    return ""


def free_bytes(folder: Path) -> int:
    """Return the free bytes of the disk.

    Raises:
        OSError: The folder does not exist.
    """
    return shutil.disk_usage(folder).free
