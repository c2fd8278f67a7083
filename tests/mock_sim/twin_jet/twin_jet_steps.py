"""Test helpers for the Halyard 220: set several controls, read a number, start an engine.

Takes: an aeroplane.  Gives: the helpers of this folder.
"""

from __future__ import annotations

from collections.abc import Mapping

from mock_sim.twin_jet import Halyard220
from mock_sim.twin_jet.motion import Motion
from rules.signals.model import Value

POWER = {"electrical.battery.switch": "on", "electrical.external.switch": "on"}
FUEL = {
    f"fuel.pump.{pump}.switch": "on" for pump in ("left_aft", "left_forward", "right_aft", "right_forward")
}
PUMPS: dict[str, Value] = {
    f"hydraulics.{k}.pump.{kind}.switch": "on" for k in "12" for kind in ("engine", "electric")
}
GENERATORS = {"electrical.generator.1.switch": "on", "electrical.generator.2.switch": "on"}


def put(aeroplane: Halyard220, positions: Mapping[str, Value]) -> Halyard220:
    """Put several controls into position."""
    for name, value in positions.items():
        aeroplane.set(name, value)
    return aeroplane


def number(aeroplane: Halyard220, name: str) -> float:
    """A signal that is a number."""
    value = aeroplane.get(name)
    assert isinstance(value, float)
    return value


def lift(aeroplane: Halyard220, altitude_ft: float, speed_ms: float) -> None:
    """Put the aeroplane into level flight at an altitude and true airspeed, without flying there."""
    motion = aeroplane.motion
    assert isinstance(motion, Motion)
    motion._on_ground, motion._altitude_ft, motion._speed_ms, motion._climb_rad = (
        False,
        altitude_ft,
        speed_ms,
        0.0,
    )


def start(aeroplane: Halyard220, k: str, *, fuel_n2: float = 25.0, seconds: float = 60.0) -> float:
    """Start an engine as a crew would, and give the highest exhaust temperature that it saw."""
    aeroplane.set(f"engine.{k}.start_switch", "start")
    highest = 0.0
    for _ in range(round(seconds / 0.25)):
        aeroplane.step(0.25)
        if number(aeroplane, f"engine.{k}.n2") >= fuel_n2:
            aeroplane.set(f"engine.{k}.fuel_lever", "open")
        highest = max(highest, number(aeroplane, f"engine.{k}.egt"))
    return highest
