"""The trainer pack, and the sheet of the stock jet: whole, without faults, with sources where numbers come from outside."""

from __future__ import annotations

import pytest

from rules.packs.layers import SHIPPED
from rules.packs.load import load_pack
from rules.packs.model import Level
from rules.packs.trip import load_trip


@pytest.mark.parametrize(("pack", "sheet"), [("trainer", "trip_demo.yaml"), ("trainer", "trip_stock.yaml"), ("twin_jet", "trip_stock.yaml")])
def test_loads_without_faults(pack: str, sheet: str) -> None:
    """Pack and sheet fit each other."""
    assert load_pack(pack, trip=load_trip(SHIPPED / pack / sheet)).faults == ()


def test_trainer_covers_the_trade() -> None:
    """Mixture, magnetos, fuel selector, flaps, trim, all three axes, brake, oil, carburettor heat, doors, lights, transponder."""
    pack = load_pack("trainer")
    read = {name for item in pack.items.values() for name in item.signals}
    assert len(pack.items) >= 35
    assert read >= {
        "engine.1.mixture", "engine.1.magnetos", "fuel.selector", "controls.flap.position", "controls.elevator_trim",
        "controls.elevator", "controls.aileron", "controls.rudder", "gear.parking_brake", "engine.1.oil_pressure",
        "ice.carburettor", "door.left", "lights.beacon", "transponder.mode", "ice.pitot", "vacuum.suction",
    }  # fmt: skip


def test_trainer_warnings_say_why_or_whence() -> None:
    """What is told as a warning has a reason, a source, or is a limit of the engine."""
    pack = load_pack("trainer")
    warnings = [item for item in pack.items.values() if item.level is Level.WARNING]
    bare = [item.id for item in warnings if not item.why and not item.source and item.finding is None]
    assert set(bare) <= {"flow.before_start.propeller_clear", "flow.before_takeoff.fuel_selector"}


def test_oil_pressure_has_30_s() -> None:
    """The thirty seconds of the published handbook stand beside their source."""
    watch = next(watch for watch in load_pack("trainer").watches if watch.id == "watch.oil_within_30_s")
    assert watch.source.startswith("30 s: FAA-H-8083-3")
