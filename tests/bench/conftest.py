"""Shared fixtures of the benchmark: a short rough flight, and the peers, whose absence is reported.

Takes: nothing.  Gives: the fixtures `peers` and `rough`.
"""

from __future__ import annotations

import os
from importlib.util import find_spec

import pytest

from tests.bench.flight_frames import FlightFrames, flight_trace

LIBRARIES = ("rule_engine", "celpy", "rtamt")


@pytest.fixture(scope="session")
def peers() -> None:
    """Skip the test where a peer is missing; fail instead where `CI` is set."""
    missing = [name for name in LIBRARIES if find_spec(name) is None]
    if missing:
        text = f"PEERS MISSING: {', '.join(missing)}; not compared: pip install 'holdshort[bench]'"
        if os.environ.get("CI", "").lower() in ("1", "true", "yes"):
            pytest.fail(text)
        pytest.skip(text)


@pytest.fixture(scope="session")
def rough() -> FlightFrames:
    """Give the first 25 s of a flight in which many switches move."""
    return flight_trace(200, rough=True)
