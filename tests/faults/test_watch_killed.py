"""Test with a watch killed a hundred times."""

from __future__ import annotations

import random
from pathlib import Path

from tests.faults.kill_rounds import compare, kill_rounds, recordings_are_readable


def test_findings_survive_a_hundred_kills_of_the_watch(tmp_path: Path) -> None:
    """With SQLite no finding is lost and none is doubled, and the recordings can be read."""
    address = f"sqlite:///{tmp_path / 'store.sqlite'}"
    published = kill_rounds(tmp_path, address, random.Random(1))
    compare(address, published)
    recordings_are_readable(tmp_path)
