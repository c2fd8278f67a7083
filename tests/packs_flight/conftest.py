"""One correct flight for all tests of this folder."""

from __future__ import annotations

import pytest

from tests.packs_flight.flown import Clean, fly_clean


@pytest.fixture(scope="session")
def clean() -> Clean:
    """The whole sector, flown and judged once."""
    return fly_clean()
