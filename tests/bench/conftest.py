"""Shared fixtures of the benchmark: a short rough flight, and the peers, whose absence is reported.

Takes: nothing.  Gives: the fixtures `peers` and `rough`.
"""

from __future__ import annotations

from importlib.util import find_spec

import pytest

from tests.bench.flight_frames import FlightFrames, flight_trace
from tests.requirements import skip_or_fail

LIBRARIES = ("rule_engine", "celpy", "rtamt")


@pytest.fixture(scope="session")
def peers() -> None:
    """Skip the test where a peer is missing; fail instead where `CI` is set."""
    missing = [name for name in LIBRARIES if find_spec(name) is None]
    if missing:
        skip_or_fail(f"not installed, not compared: {', '.join(missing)}; pip install 'holdshort[bench]'")


@pytest.fixture(scope="session")
def rough() -> FlightFrames:
    """Give the first 25 s of a flight in which many switches move."""
    return flight_trace(200, rough=True)
