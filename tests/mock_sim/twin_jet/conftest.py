"""Aeroplanes in the states that the tests begin from, without noise.

Takes: nothing.  Gives: `dark`, `powered`, `pressed`, `air`, `running`.
"""

from __future__ import annotations

from copy import deepcopy
from functools import cache

import pytest

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import FUEL, GENERATORS, POWER, PUMPS, put, start


@cache
def _air() -> Halyard220:
    """With APU, its air and generator, fuel pumps and hydraulics: ready to start."""
    aeroplane = put(Halyard220(noise=False), {**POWER, **FUEL, "apu.switch": "start"})
    aeroplane.run(45.0)
    put(aeroplane, {"electrical.generator.apu.switch": "on", "bleed.apu.switch": "on", **PUMPS})
    aeroplane.run(15.0)
    return aeroplane


@cache
def _running() -> Halyard220:
    """Both engines at idle on their own generators, APU off."""
    aeroplane = deepcopy(_air())
    for k in "21":
        start(aeroplane, k, seconds=50.0)
    put(aeroplane, {**GENERATORS, "bleed.apu.switch": "off", "apu.switch": "off"})
    aeroplane.run(10.0)
    return aeroplane


@pytest.fixture
def dark() -> Halyard220:
    """Parked and dark."""
    return Halyard220(noise=False)


@pytest.fixture
def powered() -> Halyard220:
    """On battery and external power."""
    aeroplane = put(Halyard220(noise=False), POWER)
    aeroplane.run(3.0)
    return aeroplane


@pytest.fixture
def pressed(powered: Halyard220) -> Halyard220:
    """On external power, with both electric hydraulic pumps running."""
    put(powered, {f"hydraulics.{k}.pump.electric.switch": "on" for k in "12"})
    powered.run(15.0)
    return powered


@pytest.fixture
def air() -> Halyard220:
    """Ready to start: APU air and power, fuel pressure, hydraulics."""
    return deepcopy(_air())


@pytest.fixture
def running() -> Halyard220:
    """Both engines at idle, chocks still on, parking brake set."""
    return deepcopy(_running())
