"""Runs `holdshort` with recordings in small parts: `python -m tests.endurance.watch_small_parts BYTES watch ...`.

The size of a part is no option: 256 MB suit every user, and a run of a day would not fill one.
"""

from __future__ import annotations

import sys
from functools import partial

from bridge import cli
from bridge.recording.writer import RecordingLimits
from bridge.store import persistence


def main() -> None:
    """Set the size of a part, and run the rest of the command line."""
    part_bytes = int(sys.argv.pop(1))
    setattr(persistence, "RecordingLimits", partial(RecordingLimits, part_bytes=part_bytes))  # noqa: B010
    cli.main()


if __name__ == "__main__":
    main()
