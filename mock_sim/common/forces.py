"""Forces on an aeroplane, and the acceleration of gravity.

Takes: nothing.  Gives: `Forces`, which airframes compute and motion uses.
Source: ICAO Doc 7488 (gravity 9.80665 m/s2).
"""

from __future__ import annotations

from dataclasses import dataclass

GRAVITY = 9.80665


@dataclass(frozen=True, slots=True)
class Forces:
    """Forces on the aeroplane in newton, and the angle of attack in degrees that gives the lift."""

    weight_n: float
    thrust_n: float
    lift_n: float
    drag_n: float
    incidence_deg: float
