"""Slips of the stock aeroplanes' pilot.

Takes: names of slips.  Gives: the slips by aeroplane, each with a sentence and the signals that show it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import NamedTuple

from rules.faults import InputFaults, Place
from rules.source import unknown_fault
from rules.words import join_or

SKIP, TOO_EARLY, UNDO, WRONG_VALUE, WRONG_ORDER = "skip", "too_early", "undo", "wrong_value", "wrong_order"


class StockSlip(NamedTuple):
    """One error: the kind that the mock crew's slips use, a sentence, and the signals that show it."""

    kind: str
    sentence: str
    signals: tuple[str, ...]


_FLAPS = ("controls.flap.lever", "controls.flap.position")
_SURFACES = ("controls.elevator", "controls.aileron", "controls.rudder")
_BRAKE = ("gear.parking_brake",)

JET: Mapping[str, StockSlip] = MappingProxyType(
    {
        "fuel_early": StockSlip(
            TOO_EARLY,
            "Fuel goes to the first engine at 15 % N2, well before 25 %.",
            ("engine.1.fuel_lever", "engine.2.fuel_lever"),
        ),
        "start_order": StockSlip(
            WRONG_ORDER,
            "The right engine is started first, though the trip sheet says the left one.",
            ("engine.2.n2",),
        ),
        "flaps": StockSlip(SKIP, "The flaps are never set for take-off.", _FLAPS),
        "flaps_5": StockSlip(
            WRONG_VALUE, "The flap lever goes to 5 degrees where the trip sheet says 10.", _FLAPS
        ),
        "trim": StockSlip(
            WRONG_VALUE, "The trim is run nose down, out of the green band.", ("controls.stabiliser_trim",)
        ),
        "trim_value": StockSlip(
            WRONG_VALUE,
            "The trim is in the green band, but one unit off the trip sheet.",
            ("controls.stabiliser_trim",),
        ),
        "controls": StockSlip(
            SKIP, "The rudder is left out of the flight control check.", ("controls.rudder",)
        ),
        "speedbrake": StockSlip(
            SKIP,
            "The speedbrake is tried and not stowed.",
            ("controls.speedbrake.lever", "controls.spoiler.left", "controls.spoiler.right"),
        ),
        "parking_brake": StockSlip(
            SKIP, "The parking brake, set at the holding point, is still set when thrust comes up.", _BRAKE
        ),
    }
)
PISTON: Mapping[str, StockSlip] = MappingProxyType(
    {
        "mixture": StockSlip(
            UNDO, "The mixture is leaned again after the run-up and left lean.", ("engine.1.mixture",)
        ),
        "flaps_30": StockSlip(
            WRONG_VALUE, "The flaps go down to 30 degrees where the trip sheet says 10.", _FLAPS
        ),
        "trim": StockSlip(
            WRONG_VALUE, "The elevator trim is far nose up of the take-off mark.", ("controls.elevator_trim",)
        ),
        "controls": StockSlip(SKIP, "The flight controls are not moved through their travel.", _SURFACES),
        "parking_brake": StockSlip(SKIP, "The parking brake is still set when the throttle opens.", _BRAKE),
    }
)
SLIPS: Mapping[str, Mapping[str, StockSlip]] = MappingProxyType({"jet": JET, "piston": PISTON})

DEMO: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "jet": ("fuel_early", "flaps_5", "speedbrake", "controls", "trim_value", "parking_brake"),
        "piston": ("mixture", "flaps_30", "controls", "parking_brake"),
    }
)
"""The slips of `demo`: slips that do not hide each other, and with which the aeroplane still flies."""


def check_slips(kind: str, slips: Iterable[str]) -> frozenset[str]:
    """Return the slips as a set; `demo` and `all` are expanded.

    Raises:
        InputFaults: This aeroplane has no such slip; one fault for each.
    """
    known = SLIPS[kind]
    sets = {"demo": DEMO[kind], "all": tuple(known)}
    chosen = frozenset(name for slip in slips for name in sets.get(slip, (slip,)))
    place = Place(f"slips of the stock {kind}")
    faults = [
        unknown_fault(place, "slip", slip, known, join_or(known)) for slip in sorted(chosen.difference(known))
    ]
    if faults:
        raise InputFaults(faults)
    return chosen
