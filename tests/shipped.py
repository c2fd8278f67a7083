"""The shipped packs and their trip sheets, each loaded once in a process, for tests that only read them.

Takes: the name of a shipped pack.  Gives: the pack and the trip sheet of its demonstration.
"""

from __future__ import annotations

from functools import cache

from rules.faults import InputFaults
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet, load_trip_sheet


@cache
def shipped_pack(name: str) -> Pack:
    """Load a shipped pack without a trip sheet."""
    return load_pack(name)


@cache
def shipped(name: str, sheet: str = "trip_demo.yaml") -> tuple[Pack, TripSheet]:
    """Load a shipped pack for a trip sheet of its folder.

    Raises:
        InputFaults: A condition has a fault: its rule would find nothing, and a test of no false alarms would say nothing.
    """
    trip = load_trip_sheet(SHIPPED_DIR / name / sheet)
    pack = load_pack(name, trip=trip)
    if pack.faults:
        raise InputFaults(pack.faults)
    return pack, trip
