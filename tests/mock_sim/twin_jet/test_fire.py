"""Fire: the test lights everything for a while, a fire lights its own warning."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from mock_sim.twin_jet.fire import WARNINGS


def test_the_test_lights_every_warning_and_ends(powered: Halyard220) -> None:
    """During the test all warnings and the master warning are on; some seconds later all are out."""
    powered.set("fire.test", "on")
    powered.run(1.0)
    assert powered.get("fire.test") == "on"
    assert {powered.get(light) for light in WARNINGS.values()} == {"on"}
    assert powered.get("alert.master_warning") == "on"
    powered.run(5.0)
    assert powered.get("fire.test") == "off"
    assert {powered.get(light) for light in WARNINGS.values()} == {"off"}
    assert powered.get("alert.master_warning") == "off"


def test_the_test_needs_power(dark: Halyard220) -> None:
    """Without power the test lights no warning."""
    dark.set("fire.test", "on")
    dark.run(1.0)
    assert dark.get("fire.engine.1.warning") == "off"


@pytest.mark.parametrize("place", WARNINGS)
def test_a_fire_lights_its_own_warning(powered: Halyard220, place: str) -> None:
    """Only the warning of the burning place is on, with the master warning."""
    powered.set("fault.fire", place)
    powered.run(0.5)
    lit = {light for light in WARNINGS.values() if powered.get(light) == "on"}
    assert lit == {WARNINGS[place]}
    assert powered.get("alert.master_warning") == "on"
