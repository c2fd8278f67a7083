"""The trainer pack and the sheet of the embedded simulator load without faults, with a source for every check."""

from __future__ import annotations

import re

import pytest

from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.model import Level
from rules.packs.trip_sheet import load_trip_sheet

SOURCE = re.compile(r"FAA-H-8083-|14 CFR \d|AIM \d|FAA SAIB|NTSB/AAR|common practice|invented type")


@pytest.mark.parametrize(
    ("pack", "sheet"),
    [("trainer", "trip_demo.yaml"), ("trainer", "trip_stock.yaml"), ("twin_jet", "trip_stock.yaml")],
)
def test_loads_without_faults(pack: str, sheet: str) -> None:
    """Pack and sheet fit each other."""
    assert load_pack(pack, trip=load_trip_sheet(SHIPPED_DIR / pack / sheet)).faults == ()


def test_trainer_covers_the_trade() -> None:
    """It has at least ninety items, in every phase, on all systems of a piston trainer."""
    pack = load_pack("trainer")
    assert len(pack.items) >= 90
    flown = {flow.phase for flow in pack.flows.values()}
    assert {phase.id for phase in pack.phases} - flown == {"secured"}
    read = {name for item in pack.items.values() for name in item.signals}
    assert read >= {
        "fuel.selector", "fuel.total", "engine.1.mixture", "ice.carburettor", "engine.1.magnetos", "engine.1.rpm",
        "engine.1.oil_pressure", "engine.1.starter", "electrical.avionics.1", "vacuum.suction", "electrical.ammeter",
        "electrical.low_voltage", "controls.flap.position", "controls.elevator_trim", "door.left",
        "cockpit.window.left", "seat.left.belt", "seat.left.lock", "controls.elevator", "controls.aileron",
        "controls.rudder", "controls.lock", "parking.tie_down.left", "parking.pitot_cover", "parking.tow_bar",
        "gear.chocks", "altimeter.captain.altitude", "heading.captain", "heading.standby", "transponder.mode",
        "lights.beacon", "lights.strobe", "lights.landing.left", "lights.navigation", "ice.pitot", "flight.heading",
        "gear.parking_brake", "electrical.battery.switch",
    }  # fmt: skip


def test_trainer_names_its_sources() -> None:
    """Every item and watch has its source, or the note that none is known."""
    pack = load_pack("trainer")
    sources = {item.id: item.source for item in pack.items.values()} | {w.id: w.source for w in pack.watches}
    assert [name for name, source in sources.items() if not SOURCE.search(source)] == []


def test_trainer_warnings_say_why() -> None:
    """A warning has a reason, or is a limit of the engine."""
    pack = load_pack("trainer")
    warnings = [item for item in pack.items.values() if item.level is Level.WARNING]
    bare = {item.id for item in warnings if not item.why and item.finding is None}
    assert bare <= {
        "flow.before_takeoff.magnetos_both",
        "flow.go_around.full_power",
        "flow.line_up.brake_off",
    }


def test_oil_pressure_has_30_s() -> None:
    """The thirty seconds of the published handbook have their source."""
    watch = next(watch for watch in load_pack("trainer").watches if watch.id == "watch.oil_within_30_s")
    assert watch.source.startswith("30 s: FAA-H-8083-3")


def test_both_packs_have_the_common_taxonomy() -> None:
    """The phases have the codes of the common taxonomy."""
    codes = [phase.code for phase in load_pack("trainer").phases]
    assert codes[0] == codes[-1] == "STD"
    assert set(codes) == {"STD", "TXI", "TOF", "ICL", "ENR", "APR", "LDG"}
