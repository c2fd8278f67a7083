"""A pack with checks of the trip sheet, and with a trace of an engine start.

Takes: a folder to write into.  Gives: `sheet_pack`, `SHEET`, `start_engine`.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from tests.bridge.builders import write_pack
from tests.bridge.page.page_builders import FlownDevice

SHEET = TripSheet(
    "Lindmere 417",
    {
        "trip.v1": 128.0,
        "trip.v2": 140.0,
        "trip.zero_fuel_mass": 48_600.0,
        "trip.taxi_fuel": 200.0,
        "trip.block_fuel": 8_200.0,
        "trip.squawk": 217.0,
        "trip.runway": "14",
        "trip.runway_surface": "dry",
        "trip.qnh": 1009.25,
    },
)
PACK = """
pack: {id: sheeted, title: Sheeted jet, signals: [twin_jet, trip]}
seats: {captain: Captain, first_officer: First officer}
phases:
  stand: {title: At the stand, code: STD}
  pushing: {title: Push back, code: PBT}
calls: {push_approved: {title: push approved, by: ground}}
limits:
  start_egt: {value: 740 degC, label: start EGT limit, source: invented type}
tables:
  stall: {label: stall speed, x: kg, gives: kt, points: [[40000, 100], [60000, 120]], source: invented type}
figures:
  mass:
    label: take-off mass
    uses: takeoff_mass
    with: {zero_fuel: trip.zero_fuel_mass, fuel: fuel.total, taxi_fuel: trip.taxi_fuel}
    unit: kg
  stall: {label: stall speed, uses: table.stall, with: {x: figure.mass}, unit: kt}
  minimum_v2: {label: "minimum V2 at {figure.mass}", uses: minimum_v2, with: {stall: figure.stall}, unit: kt}
gates:
  push: {phase: pushing, cue: call.push_approved happened, entry: flight.ground_speed > 1 kt, needs: [flow sheet, flow dialled]}
flows:
  sheet:
    title: Plausibility of the trip sheet
    phase: stand
    captain:
      - v2_holds: trip.v2 >= figure.minimum_v2
        label: V2 of the sheet
        level: warning
        why: a speed of another mass
        source: 14 CFR 25.107(b)
      - fuel_holds: trip.block_fuel within 300 kg of fuel.total
        label: Block fuel of the sheet
      - mass_holds: figure.mass <= 60000 kg
        label: Mass limit
  dialled:
    title: Entered
    phase: stand
    first_officer:
      - v2: speeds.v2.captain = trip.v2
      - beacon: lights.beacon is on
      - approved: call.push_approved happened
watches:
  hot:
    label: Hot start
    seat: captain
    level: warning
    expect: engine.1.egt < limit.start_egt
traces:
  roll:
    title: Roll
    begins: flight.ground_speed > 30 kt
    ends: flight.ground_speed < 20 kt
    signals: [flight.ground_speed]
    every: 1 s
    longest: 1 min
  start_1:
    title: Start of engine 1
    begins: engine.1.start_valve is open
    ends: engine.1.start_valve is closed
    signals: [engine.1.n2, engine.1.egt, engine.1.fuel_lever]
    every: 1 s
    longest: 1 min
    limits: [{signal: engine.1.egt, limit: start_egt}]
    marks: [{label: N2 rises, when: engine.1.n2 >= 2 %}]
    evidence_for: [watch.hot]
"""


def sheet_pack(folder: Path) -> Pack:
    """Write and load the pack."""
    return load_pack(str(write_pack(folder, PACK)), trip=SHEET)


def start_engine(flown: FlownDevice, egt_degc: Iterable[float], begins_s: float = 10.0) -> float:
    """Run the starter for one second at each temperature, with N2 rising by 10 %; return the next second."""
    sim_s = begins_s
    flown.frame(sim_s - 1.0, {"engine.1.start_valve": "closed", "engine.1.n2": 0.0, "engine.1.egt": 15.0})
    for number, egt in enumerate(egt_degc):
        values: dict[str, Value] = {
            "engine.1.n2": 10.0 * number,
            "engine.1.egt": egt,
            "engine.1.fuel_lever": "open",
        }
        flown.frame(sim_s, {"engine.1.start_valve": "open", **values})
        sim_s += 1.0
    return sim_s
