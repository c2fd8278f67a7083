"""Small packs for tests: a complete one as text, and the faults of changed copies."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.faults import Fault, InputFaults
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet

DATA = Path(__file__).parent / "data"

COMPLETE_PACK = """\
pack: {id: small, title: Small, signals: [twin_jet, trip]}
seats: {captain: Captain, first_officer: First officer}
phases:
  preflight: {title: Preflight, code: STD}
  push_back: {title: Push back, code: PBT}
limits:
  accumulator_low: {value: 2600 psi, label: least brake pressure}
calls:
  push_approved: {title: push approved, by: ground}
flows:
  before_start:
    title: Before start
    phase: preflight
    captain:
      - beacon: lights.beacon is on
        hold: 2 s
      - accumulator: gear.brake_accumulator >= limit.accumulator_low
        after: call.push_approved happened
    first_officer:
      - pumps: fuel.pump.*.switch is on
        follows: [beacon]
checklists:
  before_start:
    title: Before start
    read_by: first_officer
    lines:
      - fuel: Fuel
        answer: "{fuel.total} on board"
        expect: fuel.total within 150 kg of trip.block_fuel
      - beacon: Beacon
        answer: "{lights.beacon}"
        items: [flow.before_start.beacon]
gates:
  push_back:
    phase: push_back
    cue: call.push_approved happened
    entry: flight.ground_speed > 1 kt
    needs: [flow before_start, checklist before_start]
watches:
  beacon:
    label: Beacon
    seat: captain
    applies: any engine.*.n2 > 5 %
    expect: lights.beacon is on
quiets:
  roll: {applies: flight.airspeed > 80 kt, holds: [advisory, caution]}
"""


def replace_text(old: str, new: str) -> str:
    """Text of the complete pack with one piece replaced; the piece must occur once."""
    assert COMPLETE_PACK.count(old) == 1, old
    return COMPLETE_PACK.replace(old, new)


def load_text(folder: Path, text: str, trip: TripSheet | None = None) -> Pack:
    """Load a pack of one file."""
    (folder / "p.yaml").write_text(text, encoding="utf-8")
    return load_pack(str(folder), trip=trip)


def load_faults(folder: Path, text: str) -> list[str]:
    """Faults of a pack that does not load, each without its path and source line."""
    with pytest.raises(InputFaults) as caught:
        load_text(folder, text)
    return [fault_text(fault) for fault in caught.value.faults]


def fault_text(fault: Fault) -> str:
    """A fault in one line: `line:column: what, expected ... | hint`."""
    place = f"{fault.place.line}:{fault.place.column}: "
    expected = f", expected {fault.expected}" if fault.expected else ""
    return place + fault.what + expected + (f" | {fault.hint}" if fault.hint else "")
