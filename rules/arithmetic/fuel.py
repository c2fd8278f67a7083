"""Fuel: volume and mass, the planned sum and its minimum reserves, and burn from the tank quantities.

Takes: kilograms, litres, kg/l, kg/h, minutes.  Gives: the same.
"""

from __future__ import annotations

from rules.arithmetic.domain import require_not_negative, require_positive, require_within

# ICAO Annex 6 Part I, 4.3.6.3: 5 % of trip fuel, at least 5 min of holding; final reserve 30 min holding (turbine).
CONTINGENCY_SHARE = 0.05
CONTINGENCY_MIN = 5.0
FINAL_RESERVE_MIN = 30.0
# 14 CFR 121.639 and 91.167: 45 min; 91.151: 30 min by day, 45 min by night.
DOMESTIC_MIN = 45.0
VFR_DAY_MIN = 30.0
# Below and above these no fuel for aeroplanes is found: petrol at its lightest, kerosene at its coldest (ASTM D910, D1655, from memory).
MIN_DENSITY_KG_L, MAX_DENSITY_KG_L = 0.65, 0.90


def mass_kg(volume_l: float, density_kg_l: float) -> float:
    """Mass of a volume of fuel.

    Source: definition of density.  `DomainError` for a density that no fuel has: 1.77 is pounds per litre.
    """
    require_within("fuel density in kg/l", density_kg_l, MIN_DENSITY_KG_L, MAX_DENSITY_KG_L)
    return require_not_negative("volume in l", volume_l) * density_kg_l


def after_uplift_kg(before_kg: float, uplift_l: float, density_kg_l: float) -> float:
    """Fuel in the tanks after refuelling.  Source and errors: as `mass_kg`; the sum of the board of inquiry of 1983."""
    return require_not_negative("fuel before filling in kg", before_kg) + mass_kg(uplift_l, density_kg_l)


def volume_l(fuel_kg: float, density_kg_l: float) -> float:
    """Volume of a mass of fuel.  Source and errors: as `mass_kg`."""
    require_within("fuel density in kg/l", density_kg_l, MIN_DENSITY_KG_L, MAX_DENSITY_KG_L)
    return require_not_negative("fuel in kg", fuel_kg) / density_kg_l


def burn_kg(flow_kg_h: float, time_min: float) -> float:
    """Fuel burned at a fuel flow in a time.  Source: definition of flow."""
    return (
        require_not_negative("fuel flow in kg/h", flow_kg_h)
        * require_not_negative("time in min", time_min)
        / 60.0
    )


def endurance_min(fuel_kg: float, flow_kg_h: float) -> float:
    """Time until fuel is used up at a fuel flow.  Source: definition of flow."""
    return (
        require_not_negative("fuel in kg", fuel_kg) / require_positive("fuel flow in kg/h", flow_kg_h) * 60.0
    )


def minimum_contingency_kg(trip_kg: float, holding_kg_h: float) -> float:
    """Minimum contingency fuel: 5 % of the trip, at least 5 min of holding.

    Args:
        trip_kg: Trip fuel.
        holding_kg_h: Flow of all engines in holding at 1 500 ft.

    Source: ICAO Annex 6 Part I, 4.3.6.3; EU AMC1 CAT.OP.MPA.150(b).
    """
    share_kg = CONTINGENCY_SHARE * require_not_negative("trip fuel in kg", trip_kg)
    return max(share_kg, burn_kg(holding_kg_h, CONTINGENCY_MIN))


def final_reserve_kg(holding_kg_h: float, time_min: float = FINAL_RESERVE_MIN) -> float:
    """Final reserve: 30 min of holding at 1 500 ft for turbines, 45 min for pistons.

    Source: ICAO Annex 6 Part I, 4.3.6.3; EU CAT.OP.MPA.150/181.
    """
    return burn_kg(
        require_positive("holding fuel flow in kg/h", holding_kg_h), require_positive("time in min", time_min)
    )


def domestic_reserve_kg(cruise_kg_h: float) -> float:
    """Reserve of 45 min at normal cruise.  Source: 14 CFR 121.639(c), 91.167(a)(3)."""
    return burn_kg(require_positive("cruise fuel flow in kg/h", cruise_kg_h), DOMESTIC_MIN)


def vfr_reserve_kg(cruise_kg_h: float, time_min: float = VFR_DAY_MIN) -> float:
    """Reserve of 30 min at normal cruise by day, 45 by night.  Source: 14 CFR 91.151(a)."""
    return burn_kg(
        require_positive("cruise fuel flow in kg/h", cruise_kg_h), require_positive("time in min", time_min)
    )


def fuel_sum_kg(
    taxi_kg: float,
    trip_kg: float,
    contingency_kg: float,
    alternate_kg: float,
    final_reserve_kg: float,
    extra_kg: float = 0.0,
) -> float:
    """Required fuel before start: the sum of the plan.  Source: ICAO Annex 6 Part I, 4.3.6.3."""
    parts_kg = (
        require_not_negative("taxi fuel in kg", taxi_kg),
        require_not_negative("trip fuel in kg", trip_kg),
        require_not_negative("contingency fuel in kg", contingency_kg),
        require_not_negative("alternate fuel in kg", alternate_kg),
        require_not_negative("final reserve in kg", final_reserve_kg),
        require_not_negative("extra fuel in kg", extra_kg),
    )
    return sum(parts_kg)


def minimum_block_kg(taxi_kg: float, trip_kg: float, holding_kg_h: float, alternate_kg: float = 0.0) -> float:
    """Minimum fuel before start by the rules, independent of the plan.

    Source: ICAO Annex 6 Part I, 4.3.6.3: taxi, trip, contingency, alternate and final reserve of a turbine aeroplane.
    """
    return fuel_sum_kg(
        taxi_kg,
        trip_kg,
        minimum_contingency_kg(trip_kg, holding_kg_h),
        alternate_kg,
        final_reserve_kg(holding_kg_h),
    )


def expected_kg(block_kg: float, flow_kg_h: float, time_min: float) -> float:
    """Expected remaining fuel after a time at a fuel flow; never negative.  Source: definition of flow."""
    return max(require_not_negative("fuel in kg", block_kg) - burn_kg(flow_kg_h, time_min), 0.0)


def planned_on_board_kg(block_kg: float, taxi_kg: float, trip_kg: float, to_go_kg: float) -> float:
    """Planned fuel on board at a point of the flight.

    Args:
        block_kg: Fuel before start.
        taxi_kg: Taxi fuel.
        trip_kg: Trip fuel, take-off to landing.
        to_go_kg: Fuel that the rest of the flight burns.

    Source: definitions of ICAO Annex 6 Part I, 4.3.6.3; the fuel check in flight of 4.3.7 (from memory).
    """
    at_landing_kg = at_destination_kg(block_kg, require_not_negative("taxi fuel in kg", taxi_kg) + trip_kg)
    return at_landing_kg + require_not_negative("fuel to go in kg", to_go_kg)


def at_destination_kg(on_board_kg: float, to_go_kg: float) -> float:
    """Expected fuel at the destination; negative where the fuel does not suffice.

    Args:
        on_board_kg: Fuel in all tanks.
        to_go_kg: Fuel that the rest of the flight burns.

    Source: ICAO Annex 6 Part I, 4.3.7.2 (from memory): not less than alternate fuel and final reserve.
    """
    return require_not_negative("fuel on board in kg", on_board_kg) - require_not_negative(
        "fuel to go in kg", to_go_kg
    )


def lost_kg(block_kg: float, used_kg: float, on_board_kg: float) -> float:
    """Fuel that was neither used by an engine nor is in a tank: more than the gauges' error is a leak.

    Source: conservation of mass; common practice for the fuel check in flight.
    """
    used = require_not_negative("fuel used in kg", used_kg)
    return (
        require_not_negative("fuel in kg", block_kg)
        - used
        - require_not_negative("fuel on board in kg", on_board_kg)
    )


def imbalance_kg(left_kg: float, right_kg: float) -> float:
    """Fuel difference between the wings.  Source: definition."""
    return abs(
        require_not_negative("left fuel in kg", left_kg) - require_not_negative("right fuel in kg", right_kg)
    )
