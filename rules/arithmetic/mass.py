"""Mass and balance: sums of masses and moments, and the centre of gravity on the mean aerodynamic chord.

Takes: kilograms, metres from the datum, per cent.  Gives: the same.  Any other units of mass and of length can be
used, if they are the same throughout.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from rules.arithmetic.domain import DomainError, require_not_negative, require_positive


@dataclass(frozen=True, slots=True)
class Load:
    """A mass with its arm from the datum (aft positive)."""

    mass_kg: float
    arm_m: float

    @property
    def moment_kg_m(self) -> float:
        """Mass times arm."""
        return self.mass_kg * self.arm_m


def balance(loads: Iterable[Load]) -> Load:
    """Combine loads into one: their total mass, at the centre of gravity.

    Source: FAA-H-8083-1B, Weight and Balance Handbook, chapter 2.  A load that is removed has a negative mass.

    Raises:
        DomainError: The total is not positive, or a number is not finite.
    """
    all_loads = tuple(loads)
    mass_kg = require_positive("mass in kg", math.fsum(load.mass_kg for load in all_loads))
    return Load(mass_kg, math.fsum(load.moment_kg_m for load in all_loads) / mass_kg)


def cg_on_mac_pct(arm_m: float, leading_edge_m: float, chord_m: float) -> float:
    """Centre of gravity in per cent of the mean aerodynamic chord.

    Args:
        arm_m: Centre of gravity from the datum.
        leading_edge_m: Leading edge of the mean aerodynamic chord from the datum.
        chord_m: Length of that chord.

    Source: FAA-H-8083-1B, chapter 3 (100 x (CG - LEMAC) / MAC).
    """
    return 100.0 * (arm_m - leading_edge_m) / require_positive("chord in m", chord_m)


def arm_from_mac_m(centre_pct: float, leading_edge_m: float, chord_m: float) -> float:
    """Arm of a centre of gravity that is given in per cent of the chord.  Source: as `cg_on_mac_pct`."""
    return leading_edge_m + centre_pct / 100.0 * require_positive("chord in m", chord_m)


def mass_to_shift_kg(total_kg: float, centre_moves_m: float, distance_m: float) -> float:
    """Mass that must move by a distance to move the centre of gravity.

    Source: FAA-H-8083-1B, chapter 5 (mass moved / total mass = change of CG / distance moved).
    """
    if distance_m == 0.0:
        raise DomainError("a shift by no distance", "a distance")
    moved_kg = require_positive("mass in kg", total_kg) * centre_moves_m / distance_m
    return require_not_negative("mass to shift in kg", moved_kg)


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
