"""The functions that a pack's figures may use: their parameters and units, read from the functions' own names.

`least_v2_kt(stall_kt, control_kt)` is used as `least_v2` with `stall` and `control`; what ends on `_kt` is in knots.

Takes: the functions of `rules.arithmetic`.  Gives: `Recipe` by name.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass

from rules.arithmetic import (
    airspeeds,
    atmosphere,
    descent,
    fuel,
    landing,
    magnetism,
    mass,
    places,
    speeds,
    takeoff,
    wind,
)
from rules.arithmetic.tables import Table

TEXT = "text"
"""Stands for the unit of a parameter that is a word."""

# Longest first, so that `_kg_h` is not read as hours.
_UNITS = {
    "_kg_m3": "kg/m^3",
    "_ft_min": "ft/min",
    "_m_s2": "m/s^2",
    "_m2": "m^2",
    "_kg_h": "kg/h",
    "_kg_l": "kg/l",
    "_degc": "degC",
    "_deg": "deg",
    "_hpa": "hPa",
    "_pct": "%",
    "_min": "min",
    "_kn": "kN",
    "_kt": "kt",
    "_nm": "NM",
    "_kg": "kg",
    "_ft": "ft",
    "_km": "km",
    "_m": "m",
    "_l": "l",
    "_s": "s",
}


@dataclass(frozen=True, slots=True)
class Parameter:
    """One thing that a function asks for: `keyword` is how Python calls it, `unit` may be TEXT."""

    keyword: str
    unit: str
    needed: bool


@dataclass(frozen=True, slots=True)
class Recipe:
    """A function as a pack sees it.

    `says` is how the result came about, with the parameters' names in braces; a part in square brackets is said only
    where the parameters in it are given.  `circle` is true where the result is a direction.
    """

    name: str
    function: Callable[..., float]
    parameters: dict[str, Parameter]
    unit: str
    says: str
    circle: bool = False


def _parted(name: str) -> tuple[str, str]:
    """A name without its unit, and the unit, `1` for none."""
    for ending, unit in _UNITS.items():
        if name.endswith(ending):
            return name.removesuffix(ending), unit
    return name, "1"


def recipe_of(function: Callable[..., float], says: str, *, circle: bool = False) -> Recipe:
    """A function as a pack sees it, by its signature.

    Args:
        function: One whose parameters and own name end on their units.
        says: How the result came about.
        circle: Whether the result is a direction.
    """
    name, unit = _parted(function.__name__)
    parameters = {}
    for keyword, parameter in inspect.signature(function, eval_str=True).parameters.items():
        short, own = _parted(keyword)
        own = TEXT if parameter.annotation is str else own
        parameters[short] = Parameter(keyword, own, parameter.default is inspect.Parameter.empty)
    return Recipe(name, function, parameters, unit, says, circle)


def table_recipe(name: str, table: Table, units: tuple[str, ...], gives: str) -> Recipe:
    """A pack's own table as a function of x, or of x and y.

    Args:
        name: As the pack calls it.
        table: The data.
        units: The unit of each side.
        gives: The unit of the values.
    """
    sides = {side: Parameter(side, unit, needed=True) for side, unit in zip("xy", units, strict=False)}
    says = "for {x}" if len(units) == 1 else "for {x} and {y}"
    return Recipe(name, table.at, sides, gives, says)


KNOWN: dict[str, Recipe] = {
    recipe.name: recipe
    for recipe in (
        recipe_of(atmosphere.standard_temperature_degc, "standard day at {pressure_altitude}"),
        recipe_of(atmosphere.standard_pressure_hpa, "standard day at {pressure_altitude}"),
        recipe_of(atmosphere.pressure_altitude_ft, "standard day with {pressure}"),
        recipe_of(atmosphere.pressure_altitude_at_ft, "{elevation} with {qnh}"),
        recipe_of(atmosphere.density_altitude_ft, "{pressure_altitude} at {temperature}"),
        recipe_of(atmosphere.density_ratio, "{pressure_altitude} at {temperature}"),
        recipe_of(atmosphere.deviation_degc, "{temperature} against the standard day at {pressure_altitude}"),
        recipe_of(atmosphere.cold_error_ft, "{height} above {elevation} at {temperature}"),
        recipe_of(airspeeds.mach_from_cas, "{cas} at {altitude}"),
        recipe_of(airspeeds.cas_from_mach_kt, "Mach {mach} at {altitude}"),
        recipe_of(airspeeds.tas_from_cas_kt, "{cas} at {altitude} and {temperature}"),
        recipe_of(airspeeds.tas_from_mach_kt, "Mach {mach} at {temperature}"),
        recipe_of(airspeeds.cas_from_tas_kt, "{tas} at {altitude} and {temperature}"),
        recipe_of(airspeeds.crossover_altitude_ft, "{cas} and Mach {mach}"),
        recipe_of(airspeeds.total_temperature_degc, "Mach {mach} at {temperature}"),
        recipe_of(wind.headwind_kt, "{wind} from {direction} on {runway_heading}"),
        recipe_of(wind.tailwind_kt, "{wind} from {direction} on {runway_heading}"),
        recipe_of(wind.crosswind_kt, "{wind} from {direction} on {runway_heading}"),
        recipe_of(wind.counted_headwind_kt, "{wind} from {direction} on {runway_heading}"),
        recipe_of(wind.drift_deg, "{wind} from {direction} on {track} at {tas}"),
        recipe_of(wind.ground_speed_kt, "{tas} with {wind} from {direction} on {track}"),
        recipe_of(magnetism.variation_deg, "World Magnetic Model at {latitude}, {longitude}"),
        recipe_of(magnetism.magnetic_deg, "{true} with variation {variation_east}", circle=True),
        recipe_of(magnetism.true_deg, "{magnetic_heading} with variation {variation_east}", circle=True),
        recipe_of(magnetism.runway_heading_deg, "{runway}", circle=True),
        recipe_of(magnetism.runway_gap_deg, "{runway} and {heading}"),
        recipe_of(places.distance_nm, "{latitude}, {longitude} to {to_latitude}, {to_longitude}"),
        recipe_of(mass.chord_pct, "{arm} on a chord of {chord} from {leading_edge}"),
        recipe_of(mass.zero_fuel_mass_kg, "{empty} plus {load}"),
        recipe_of(mass.takeoff_mass_kg, "{zero_fuel} plus {fuel} less {taxi_fuel}"),
        recipe_of(mass.gross_mass_kg, "{zero_fuel} plus {fuel}"),
        recipe_of(mass.landing_mass_kg, "{takeoff} less {burn}"),
        recipe_of(speeds.speed_at_mass_kt, "{speed} at {reference}, scaled to {mass}"),
        recipe_of(speeds.mass_at_speed_kg, "{reference} at {reference_speed}, scaled to {speed}"),
        recipe_of(speeds.stall_in_bank_kt, "{stall} in a bank of {bank}"),
        recipe_of(speeds.least_v2_kt, "1.13 times {stall}[, 1.10 times {control}]"),
        recipe_of(speeds.least_vr_kt, "{v1}[, 1.05 times {control}]"),
        recipe_of(speeds.least_vref_kt, "1.23 times {stall}[, {control}]"),
        recipe_of(speeds.final_approach_kt, "{vref} and half of {headwind}[ and {gust}]"),
        recipe_of(takeoff.acceleration_m_s2, "{thrust} on {mass}"),
        recipe_of(takeoff.rolling_acceleration_m_s2, "{thrust} on {mass} after rolling friction and drag"),
        recipe_of(takeoff.mean_acceleration_m_s2, "{speed} within {distance}"),
        recipe_of(takeoff.ground_roll_m, "{speed} with {acceleration}"),
        recipe_of(takeoff.time_to_speed_s, "{speed} with {acceleration}"),
        recipe_of(takeoff.roll_at_mass_m, "{roll} at {reference}, for {mass}"),
        recipe_of(takeoff.roll_in_air_m, "{roll} with density ratio {density_ratio}"),
        recipe_of(takeoff.roll_in_wind_m, "{roll} with headwind {headwind}"),
        recipe_of(takeoff.distance_with_margin_m, "115 % of {distance}"),
        recipe_of(fuel.mass_kg, "{volume} at {density}"),
        recipe_of(fuel.filled_kg, "{before} plus {uplift} at {density}"),
        recipe_of(fuel.volume_l, "{fuel} at {density}"),
        recipe_of(fuel.burn_kg, "{flow} for {time}"),
        recipe_of(fuel.endurance_min, "{fuel} at {flow}"),
        recipe_of(fuel.least_contingency_kg, "5 % of {trip}, at least 5 min at {holding}"),
        recipe_of(fuel.final_reserve_kg, "{holding}[ for {time}]"),
        recipe_of(fuel.domestic_reserve_kg, "45 min at {cruise}"),
        recipe_of(fuel.visual_reserve_kg, "{cruise}[ for {time}]"),
        recipe_of(
            fuel.fuel_sum_kg,
            "{taxi}, {trip}, {contingency}, {alternate}, {final_reserve}[ and {extra}]",
        ),
        recipe_of(
            fuel.least_block_kg,
            "{taxi}, {trip}, contingency, 30 min at {holding}[ and {alternate}]",
        ),
        recipe_of(fuel.expected_kg, "{block} after {time} at {flow}"),
        recipe_of(fuel.planned_on_board_kg, "{block} less {taxi} and {trip}, plus {to_go}"),
        recipe_of(fuel.at_destination_kg, "{on_board} less {to_go}"),
        recipe_of(fuel.lost_kg, "{block} less {used} used, with {on_board}"),
        recipe_of(fuel.imbalance_kg, "{left} and {right}"),
        recipe_of(landing.needed_landing_m, "{distance} within 60 % of a runway that is {surface}"),
        recipe_of(descent.distance_to_descend_nm, "{height_to_lose}[ at {path}]"),
        recipe_of(descent.descent_rate_ft_min, "{ground_speed}[ at {path}]"),
        recipe_of(descent.required_rate_ft_min, "{height_to_lose} in {distance} at {ground_speed}"),
        recipe_of(descent.path_angle_deg, "{height_to_lose} in {distance}"),
    )
}
