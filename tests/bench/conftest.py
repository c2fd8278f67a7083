"""What the tests of the benchmark share: a short rough flight, and the peers, whose absence is said aloud."""

from __future__ import annotations

import os
from importlib.util import find_spec

import pytest

from tests.bench.flight_frames import FlightFrames, flight_trace

LIBRARIES = ("rule_engine", "celpy", "rtamt")


@pytest.fixture(scope="session")
def peers() -> None:
    """Skips where a peer is missing; fails where that would go unseen."""
    missing = [name for name in LIBRARIES if find_spec(name) is None]
    if missing:
        words = f"PEERS MISSING: {', '.join(missing)}; nothing was compared: pip install 'holdshort[bench]'"
        if os.environ.get("CI", "").lower() in ("1", "true", "yes"):
            pytest.fail(words)
        pytest.skip(words)


@pytest.fixture(scope="session")
def rough() -> FlightFrames:
    """The first 25 s of a flight in which many switches are thrown."""
    return flight_trace(200, rough=True)
