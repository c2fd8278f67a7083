"""Mass and balance: sums of masses and moments, and the centre of gravity on the mean aerodynamic chord.

Takes: kilograms, metres from the datum, per cent.  Gives: the same.  Any other units of mass and of length can be
used, if they are the same throughout.
"""

from __future__ import annotations

from rules.arithmetic.domain import require_not_negative, require_positive


def cg_on_mac_pct(arm_m: float, leading_edge_m: float, chord_m: float) -> float:
    """Centre of gravity in per cent of the mean aerodynamic chord.

    Args:
        arm_m: Centre of gravity from the datum.
        leading_edge_m: Leading edge of the mean aerodynamic chord from the datum.
        chord_m: Length of that chord.

    Source: FAA-H-8083-1B, chapter 3 (100 x (CG - LEMAC) / MAC).
    """
    return 100.0 * (arm_m - leading_edge_m) / require_positive("chord in m", chord_m)


def takeoff_mass_kg(zero_fuel_kg: float, fuel_kg: float, taxi_fuel_kg: float) -> float:
    """Mass at the start of the take-off: zero-fuel mass and fuel on board, less the fuel for start and taxi.

    Source: definitions of ICAO Annex 6 and FAA-H-8083-1B, chapter 1.
    """
    require_positive("zero-fuel mass in kg", zero_fuel_kg)
    left_kg = require_not_negative("fuel in kg", fuel_kg) - require_not_negative(
        "taxi fuel in kg", taxi_fuel_kg
    )
    return zero_fuel_kg + max(left_kg, 0.0)


def gross_mass_kg(zero_fuel_kg: float, fuel_kg: float) -> float:
    """Present mass: zero-fuel mass and fuel on board.  Source: as `takeoff_mass_kg`."""
    return require_positive("zero-fuel mass in kg", zero_fuel_kg) + require_not_negative(
        "fuel in kg", fuel_kg
    )


def landing_mass_kg(takeoff_kg: float, burn_kg: float) -> float:
    """Mass at landing: take-off mass less the fuel that the flight burns.  Source: as `takeoff_mass_kg`."""
    left_kg = require_positive("take-off mass in kg", takeoff_kg) - require_not_negative(
        "trip fuel in kg", burn_kg
    )
    return require_positive("landing mass in kg", left_kg)


def zero_fuel_mass_kg(empty_kg: float, load_kg: float) -> float:
    """Zero-fuel mass: operating empty mass and load.  Source: as `takeoff_mass_kg`."""
    return require_positive("empty mass in kg", empty_kg) + require_not_negative("load in kg", load_kg)
