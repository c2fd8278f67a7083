"""One correct flight for all tests of this folder."""

from __future__ import annotations

import pytest

from tests.packs_flight.recorded_sector import CleanSector, fly_clean


@pytest.fixture(scope="session")
def clean() -> CleanSector:
    """The whole sector, flown and judged once."""
    return fly_clean()
