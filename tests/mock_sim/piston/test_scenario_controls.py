"""Tests that a scenario names its aeroplane, and is checked against it."""

from __future__ import annotations

from pathlib import Path

import pytest

from mock_sim.piston import Halyard12
from mock_sim.run import Flight
from mock_sim.twin_jet import Halyard220
from rules.faults import InputFaults

SHORT = """title: Short
{aeroplane}
ends: [{{done: pilot.lever}}]
seats:
  pilot:
    - {{key: lever, set: {{{control}}}}}
"""


def _written(folder: Path, aeroplane: str, control: str) -> Path:
    """A scenario of one step in a file."""
    path = folder / "short.yaml"
    path.write_text(SHORT.format(aeroplane=aeroplane, control=control), encoding="utf-8")
    return path


def test_each_scenario_gets_its_own_aeroplane(tmp_path: Path) -> None:
    """The named aeroplane is built; without a name, the jet."""
    named = _written(tmp_path, "aeroplane: halyard_12", "engine.1.mixture: 40")
    flight = Flight(named)
    assert isinstance(flight.aeroplane, Halyard12)
    assert [moment.state["engine.1.mixture"] for moment in flight][-1] == 40.0
    plain = _written(tmp_path, "longest_s: 60", "engine.1.fuel_lever: open")
    assert isinstance(Flight(plain).aeroplane, Halyard220)


@pytest.mark.parametrize(
    ("aeroplane", "control", "line", "message"),
    [
        ("aeroplane: halyard_13", "engine.1.mixture: 40", 2, "halyard_12"),
        ("aeroplane: halyard_12", "engine.1.fuel_lever: open", 6, "engine.1.fuel_lever"),
        ("aeroplane: halyard_220", "engine.1.mixture: 40", 6, "engine.1.mixture"),
        ("aeroplane: halyard_12", "pilot.task: loop", 6, "loop"),
    ],
)
def test_a_missing_control_of_an_aeroplane_is_reported(
    tmp_path: Path, aeroplane: str, control: str, line: int, message: str
) -> None:
    """An unknown aeroplane, and a control or word that the named one lacks, are faults at their line."""
    with pytest.raises(InputFaults) as refused:
        Flight(_written(tmp_path, aeroplane, control))
    assert [fault.place.line for fault in refused.value.faults] == [line]
    assert message in str(refused.value)
