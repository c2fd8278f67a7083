"""What the tests of the bridge share.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

import pytest

from rules.packs.model import Pack
from tests.bridge.making import small_pack
from tests.contract.until import Clock


@pytest.fixture(scope="session")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The small pack."""
    return small_pack(tmp_path_factory.mktemp("packs") / "small")


@pytest.fixture
def clock() -> Clock:
    """A clock that stands until it is moved."""
    return Clock()
