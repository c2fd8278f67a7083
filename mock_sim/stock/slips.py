"""What the pilot of a stock aeroplane can be told to do wrong.

Takes: nothing.  Gives: the slips by aeroplane, each in one plain sentence.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean

JET: Mapping[str, str] = MappingProxyType(
    {
        "fuel_early": "Fuel goes to the first engine at 15 % N2, well before 25 %.",
        "start_order": "The right engine is started first, though the papers say the left one.",
        "flaps": "The flaps are never set for take-off.",
        "flaps_5": "The flap lever goes to 5 degrees where the papers say 10.",
        "trim": "The trim is run nose down, out of the green band.",
        "trim_value": "The trim stands in the green band, but one unit off the papers.",
        "controls": "The rudder is left out of the flight control check.",
        "speedbrake": "The speedbrake is tried and not put away.",
        "parking_brake": "The parking brake, set at the holding point, is still set when thrust comes up.",
    }
)
PISTON: Mapping[str, str] = MappingProxyType(
    {
        "mixture": "The mixture, leaned for the taxi, stays lean for the take-off.",
        "flaps_30": "The flaps go down to 30 degrees where the papers say 10.",
        "trim": "The elevator trim is far nose up of the take-off mark.",
        "controls": "The flight controls are not moved through their travel.",
        "parking_brake": "The parking brake is still set when the throttle opens.",
    }
)
SLIPS: Mapping[str, Mapping[str, str]] = MappingProxyType({"jet": JET, "piston": PISTON})


def check_slips(kind: str, slips: Iterable[str]) -> frozenset[str]:
    """The slips as a set.

    Raises:
        InputFaults: This aeroplane has no such slip; one fault for each.
    """
    chosen, known = frozenset(slips), SLIPS[kind]
    place = Place(f"slips of the stock {kind}")
    faults = [
        Fault(place, f"unknown slip {slip}", "one of " + ", ".join(known), did_you_mean(slip, known))
        for slip in sorted(chosen.difference(known))
    ]
    if faults:
        raise InputFaults(faults)
    return chosen
