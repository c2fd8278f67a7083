"""Test with a watch killed again and again."""

from __future__ import annotations

import random
from pathlib import Path

from tests.faults.kill_rounds import compare, kill_rounds, recordings_are_readable


def test_findings_survive_every_kill_of_the_watch(tmp_path: Path, rounds: int) -> None:
    """With SQLite no finding is lost and none is doubled, and the recordings can be read."""
    address = f"sqlite:///{tmp_path / 'store.sqlite'}"
    published = kill_rounds(tmp_path, address, random.Random(1), rounds)
    compare(address, published, rounds)
    recordings_are_readable(tmp_path, rounds)
