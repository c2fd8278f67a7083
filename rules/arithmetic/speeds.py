"""Speeds that depend on mass: stall and reference speeds, and the minimum VR, V2 and VREF by the rules.

Takes: calibrated airspeeds in knots, masses in kilograms.  Gives: knots.
"""

from __future__ import annotations

import math

from rules.arithmetic.domain import require_not_negative, require_positive, require_within

# 14 CFR 25.107(b)(1), (b)(3), (e)(1)(ii) and 25.125(b)(2) (the last from memory).
V2_OVER_STALL = 1.13
V2_OVER_CONTROL = 1.10
VR_OVER_CONTROL = 1.05
VREF_OVER_STALL = 1.23


def speed_at_mass_kt(speed_kt: float, reference_kg: float, mass_kg: float) -> float:
    """Speed at another mass for the same angle of attack; proportional to the square root of the mass.

    Args:
        speed_kt: The speed at the reference mass.
        reference_kg: The reference mass.
        mass_kg: The other mass.

    Source: lift equation; FAA-H-8083-25, chapter 5 (stall speed and weight).
    """
    ratio = require_positive("mass in kg", mass_kg) / require_positive("reference mass in kg", reference_kg)
    return require_not_negative("speed in kt", speed_kt) * math.sqrt(ratio)


def mass_at_speed_kg(speed_kt: float, reference_speed_kt: float, reference_kg: float) -> float:
    """Mass at a speed, from the same speed at a reference mass.  Source: as `speed_at_mass_kt`."""
    ratio = require_positive("speed in kt", speed_kt) / require_positive(
        "reference speed in kt", reference_speed_kt
    )
    return require_positive("reference mass in kg", reference_kg) * ratio**2


def load_factor(bank_deg: float) -> float:
    """Load factor of a level turn.  Source: FAA-H-8083-25, chapter 5 (1 / cosine of the bank)."""
    return 1.0 / math.cos(math.radians(require_within("bank in deg", bank_deg, -89.0, 89.0)))


def stall_in_bank_kt(stall_kt: float, bank_deg: float) -> float:
    """Stall speed in a level turn.  Source: FAA-H-8083-25, chapter 5 (square root of the load factor)."""
    return require_positive("stall speed in kt", stall_kt) * math.sqrt(load_factor(bank_deg))


def minimum_v2_kt(stall_kt: float, control_kt: float = 0.0) -> float:
    """Minimum V2 of a twin jet.

    Args:
        stall_kt: Reference stall speed VSR at the take-off flap and mass.
        control_kt: Minimum control speed in the air VMC, 0 where it is not known.

    Source: 14 CFR 25.107(b)(1) and (b)(3): 1.13 VSR and 1.10 VMC.
    """
    require_not_negative("minimum control speed in kt", control_kt)
    return max(V2_OVER_STALL * require_positive("stall speed in kt", stall_kt), V2_OVER_CONTROL * control_kt)


def minimum_vr_kt(v1_kt: float, control_kt: float = 0.0) -> float:
    """Minimum VR.  Source: 14 CFR 25.107(e)(1)(i) and (ii): V1 and 1.05 VMC."""
    require_not_negative("minimum control speed in kt", control_kt)
    return max(require_positive("V1 in kt", v1_kt), VR_OVER_CONTROL * control_kt)


def minimum_vref_kt(stall_kt: float, control_kt: float = 0.0) -> float:
    """Minimum VREF.

    Args:
        stall_kt: Reference stall speed VSR0 in the landing configuration and mass.
        control_kt: Minimum control speed at landing VMCL, 0 where it is not known.

    Source: 14 CFR 25.125(b)(2) (from memory): 1.23 VSR0 and VMCL.
    """
    require_not_negative("minimum control speed in kt", control_kt)
    return max(VREF_OVER_STALL * require_positive("stall speed in kt", stall_kt), control_kt)


def final_approach_kt(vref_kt: float, headwind_kt: float, gust_kt: float = 0.0) -> float:
    """Final approach speed: VREF plus half of the steady headwind and the gust, at least 5 and at most 20 kt.

    Source: common practice, no source.
    """
    require_not_negative("gust in kt", gust_kt)
    added = max(headwind_kt, 0.0) / 2.0 + gust_kt
    return require_positive("VREF in kt", vref_kt) + min(max(added, 5.0), 20.0)
