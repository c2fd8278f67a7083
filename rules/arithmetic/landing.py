"""Required runway length for landing, from the landing distance of the type.

These are checks of plausibility, not a performance calculation.

Takes: metres, the state of the runway.  Gives: metres.
"""

from __future__ import annotations

from rules.arithmetic.domain import DomainError, require_not_negative

# 14 CFR 121.195(b): to a full stop within 60 % of the runway; (d): 115 % of that where it is wet.
DRY_SHARE = 0.60
WET_FACTOR = 1.15
_FACTORS = {"dry": 1.0, "damp": WET_FACTOR, "wet": WET_FACTOR}


def required_landing_distance_m(distance_m: float, surface: str) -> float:
    """Runway length required at dispatch for the landing of a turbojet.

    Args:
        distance_m: Landing distance of the type, from 50 ft to a full stop on a dry runway.
        surface: dry, damp or wet; damp counts as wet (common practice, no source).

    Source: 14 CFR 121.195(b) and (d).

    Raises:
        DomainError: A contaminated runway: the rules give no factor, the type's own data are needed.
    """
    factor = _FACTORS.get(surface)
    if factor is None:
        raise DomainError(f"a runway that is {surface}", "dry, damp or wet; else the type's own data")
    return require_not_negative("landing distance in m", distance_m) / DRY_SHARE * factor
