"""Flights of the real library: absent, these tests skip loudly; in CI that is a failure."""

from __future__ import annotations

import os
from collections.abc import Callable

import pytest

from mock_sim.jsbsim.installation import INSTALL_HINT, jsbsim_installed
from tests.real.watched_flight import WatchedFlight, watch

Fly = Callable[..., WatchedFlight]


@pytest.fixture(scope="session")
def library() -> None:
    """The JSBSim library is here."""
    if jsbsim_installed():
        return
    if os.environ.get("CI") == "true":
        pytest.fail(f"the JSBSim library is absent in CI; {INSTALL_HINT}")
    pytest.skip(f"the JSBSim library is absent, nothing real is flown; {INSTALL_HINT}")


@pytest.fixture(scope="session")
def jet(library: None) -> WatchedFlight:  # noqa: ARG001 - it must be here
    """A correct flight of the stock jet."""
    return watch("jet")


@pytest.fixture(scope="session")
def piston(library: None) -> WatchedFlight:  # noqa: ARG001 - it must be here
    """A correct flight of the stock piston."""
    return watch("piston")
