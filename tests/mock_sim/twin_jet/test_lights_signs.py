"""Lights and signs shine when they are on and have power."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from mock_sim.twin_jet.lights_signs import BUS
from tests.mock_sim.twin_jet.twin_jet_steps import put


@pytest.mark.parametrize("light", BUS)
def test_a_light_needs_power(dark: Halyard220, light: str) -> None:
    """Every lamp is off without power, on with it, and off again when power is lost."""
    dark.set(light, "on")
    dark.run(0.5)
    assert dark.get(light) == "off"
    put(dark, {"electrical.battery.switch": "on", "electrical.external.switch": "on"})
    dark.run(1.0)
    assert dark.get(light) == "on"
    dark.set("electrical.external.available", "no")
    dark.run(0.5)
    assert dark.get(light) == "off"


def test_a_sign_on_auto_reads_auto(powered: Halyard220) -> None:
    """A sign keeps its three positions."""
    powered.set("lights.seat_belts", "auto")
    powered.run(0.1)
    assert powered.get("lights.seat_belts") == "auto"
