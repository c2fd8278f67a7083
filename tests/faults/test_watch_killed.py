"""A hundred times the watch is killed: no finding is lost, none is doubled."""

from __future__ import annotations

import random
from pathlib import Path

from tests.faults.kill_rounds import compare, kill_rounds, recordings_are_readable


def test_a_hundred_watches_killed(tmp_path: Path) -> None:
    """SQLite: a hundred watches killed at random moments lose no finding and double none; recordings can be read."""
    address = f"sqlite:///{tmp_path / 'store.sqlite'}"
    heard = kill_rounds(tmp_path, address, random.Random(1))
    compare(address, heard)
    recordings_are_readable(tmp_path)
