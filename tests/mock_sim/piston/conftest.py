"""Halyard 12s in the states that the tests begin from, without noise.

Takes: nothing.  Gives: `parked`, `alive`, `running`.
"""

from __future__ import annotations

from copy import deepcopy
from functools import cache

import pytest

from mock_sim.piston import Halyard12
from tests.mock_sim.piston.piston_steps import ALIVE, crank, prime, put


@cache
def _running() -> Halyard12:
    """The engine at about 1 000 rpm for two minutes, still roped and covered."""
    trainer = put(Halyard12(noise=False), {**ALIVE, "fuel.pump.auxiliary.switch": "on"})
    trainer.run(3.0)
    prime(trainer)
    crank(trainer)
    trainer.set("fuel.pump.auxiliary.switch", "off")
    trainer.run(120.0, 0.2)
    return trainer


@pytest.fixture
def parked() -> Halyard12:
    """Return a parked aeroplane without power."""
    return Halyard12(noise=False)


@pytest.fixture
def alive(parked: Halyard12) -> Halyard12:
    """Return one with master and fuel on, ready to prime."""
    put(parked, {**ALIVE, "fuel.pump.auxiliary.switch": "on"}).run(3.0)
    return parked


@pytest.fixture
def running() -> Halyard12:
    """Return one with its engine running and slightly warm."""
    return deepcopy(_running())
