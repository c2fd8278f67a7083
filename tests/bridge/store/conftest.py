"""Provides fixtures for the tests of the store.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from rules.packs.model import Pack
from tests.bridge.store.store_harness import StoreHarness


@pytest.fixture
def harness(pack: Pack, tmp_path: Path, address: str) -> Iterator[StoreHarness]:
    """A device whose sessions are stored, on each kind of database."""
    harness = StoreHarness(pack, tmp_path / "spool", address)
    yield harness
    harness.close()


@pytest.fixture
def spooled(pack: Pack, tmp_path: Path) -> Iterator[StoreHarness]:
    """A device whose sessions are stored, for tests that only read the spool."""
    harness = StoreHarness(pack, tmp_path / "spool", f"sqlite:///{tmp_path / 'store.sqlite'}")
    yield harness
    harness.close()
