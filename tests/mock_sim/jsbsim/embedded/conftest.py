"""Aeroplanes flown by the library; without it these tests are skipped, and fail in CI.

Takes: nothing.  Gives: `library`, `parked`, `running`.
"""

from __future__ import annotations

import pytest

from mock_sim.jsbsim.embedded import JsbsimHalyard220
from mock_sim.jsbsim.installation import INSTALL_HINT, jsbsim_installed
from tests.mock_sim.twin_jet.twin_jet_steps import FUEL, GENERATORS, POWER, PUMPS, put, start
from tests.requirements import skip_or_fail


@pytest.fixture(scope="session")
def library() -> None:
    """The JSBSim library is here."""
    if jsbsim_installed():
        return
    skip_or_fail(f"the JSBSim library is not installed, nothing real is flown: {INSTALL_HINT}")


@pytest.fixture
def parked(library: None) -> JsbsimHalyard220:  # noqa: ARG001 - it must be here
    """Parked and dark, without noise."""
    return JsbsimHalyard220(noise=False)


def ready(aeroplane: JsbsimHalyard220) -> JsbsimHalyard220:
    """With APU, its air and generator, fuel pumps and hydraulics: ready to start."""
    put(aeroplane, {**POWER, **FUEL, "apu.switch": "start"})
    aeroplane.run(45.0)
    put(aeroplane, {"electrical.generator.apu.switch": "on", "bleed.apu.switch": "on", **PUMPS})
    aeroplane.run(15.0)
    return aeroplane


@pytest.fixture
def running(parked: JsbsimHalyard220) -> JsbsimHalyard220:
    """Both engines at idle on their own generators, chocks away, brake set."""
    ready(parked)
    for k in "21":
        start(parked, k)
    put(parked, {**GENERATORS, "gear.chocks": "removed"})
    parked.run(5.0)
    return parked
