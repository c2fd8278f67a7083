"""Fixtures of the tests of the page.

Takes: nothing.  Gives: a pack, and a device with it.
"""

from __future__ import annotations

import pytest

from rules.packs.model import Pack
from tests.bridge.page.page_builders import PACK, FlownDevice, page_pack


@pytest.fixture(scope="session")
def paged(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The pack with everything that a page shows."""
    return page_pack(tmp_path_factory.mktemp("packs") / "paged", PACK)


@pytest.fixture
def flown(paged: Pack) -> FlownDevice:
    """A device with this pack that has received nothing."""
    return FlownDevice(paged)
