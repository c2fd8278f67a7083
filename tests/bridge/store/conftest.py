"""What the tests of the store share.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from rules.packs.model import Pack
from tests.bridge.store.store_harness import StoreHarness


@pytest.fixture
def desk(pack: Pack, tmp_path: Path, address: str) -> Iterator[StoreHarness]:
    """A device that is kept, on each kind of database."""
    made = StoreHarness(pack, tmp_path / "spool", address)
    yield made
    made.close()


@pytest.fixture
def spooled(pack: Pack, tmp_path: Path) -> Iterator[StoreHarness]:
    """A device that is kept, where only the spool is looked at."""
    made = StoreHarness(pack, tmp_path / "spool", f"sqlite:///{tmp_path / 'store.sqlite'}")
    yield made
    made.close()
