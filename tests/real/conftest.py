"""Fixtures that fly the real JSBSim library; without it these tests are skipped, and fail in CI."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from mock_sim.jsbsim.installation import INSTALL_HINT, jsbsim_installed
from tests.real.watched_flight import WatchedFlight, watch
from tests.requirements import skip_or_fail

Fly = Callable[..., WatchedFlight]


@pytest.fixture(scope="session")
def library() -> None:
    """Skip if the JSBSim library is not installed; fail in CI."""
    if jsbsim_installed():
        return
    skip_or_fail(f"the JSBSim library is not installed, nothing real is flown: {INSTALL_HINT}")


@pytest.fixture(scope="session")
def jet(library: None) -> WatchedFlight:  # noqa: ARG001 - it must be here
    """Fly the stock jet correctly."""
    return watch("jet")


@pytest.fixture(scope="session")
def piston(library: None) -> WatchedFlight:  # noqa: ARG001 - it must be here
    """Fly the stock piston single correctly."""
    return watch("piston")
