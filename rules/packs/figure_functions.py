"""Functions that the figures of a pack may use: their names in packs, their parameters in Python's order, and units.

Packs use the names in this table, so renaming a function or parameter in Python must not change them.

Takes: the functions of `rules.arithmetic`.  Gives: `FigureFunction` by name.
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
    great_circle,
    guidance,
    landing,
    magnetism,
    mass,
    speeds,
    takeoff,
    wind,
)
from rules.arithmetic.lookup_table import LookupTable
from rules.arithmetic.step_table import StepTable

TEXT_PARAMETER = "text"
"""Stands for the unit of a parameter that is a word."""


@dataclass(frozen=True, slots=True)
class FunctionParameter:
    """Parameter of a function; `keyword` is its name in Python, `unit` may be TEXT_PARAMETER."""

    keyword: str
    unit: str
    required: bool


@dataclass(frozen=True, slots=True)
class FigureFunction:
    """Function as a pack sees it.

    `explanation` says how the result was computed, with the parameters' names in braces; a part in square brackets is
    used only where all of its parameters are given.  `is_direction` is true where the result is a direction.
    """

    name: str
    function: Callable[..., float]
    parameters: dict[str, FunctionParameter]
    unit: str
    explanation: str
    is_direction: bool = False


def _recipe(
    function: Callable[..., float], called: str, parameters: str, says: str, *, is_direction: bool = False
) -> FigureFunction:
    """Describe a function for packs.

    Args:
        function: The function.
        called: Name in packs and unit of the result, such as `minimum_v2 kt`; `1` for a result without a unit.
        parameters: Name in packs and unit of each parameter, all of them, in the function's order.
        says: How the result was computed.
        is_direction: True if the result is a direction.
    """
    name, unit = called.split()
    own = inspect.signature(function).parameters.values()
    known = {}
    for said, parameter in zip(parameters.split(", "), own, strict=True):
        short, in_unit = said.split()
        known[short] = FunctionParameter(
            parameter.name, in_unit, parameter.default is inspect.Parameter.empty
        )
    return FigureFunction(name, function, known, unit, says, is_direction)


def table_function(
    name: str, table: LookupTable | StepTable, units: tuple[str, ...], value_unit: str
) -> FigureFunction:
    """Describe a pack's own table as a function of x, or of x and y.

    Args:
        name: Name in the pack.
        table: The data.
        units: Unit of each side.
        value_unit: Unit of the values.
    """
    sides = {
        side: FunctionParameter(side, unit, required=True) for side, unit in zip("xy", units, strict=False)
    }
    says = "for {x}" if len(units) == 1 else "for {x} and {y}"
    read = table.value_at if isinstance(table, StepTable) else table.interpolate
    return FigureFunction(name, read, sides, value_unit, says)


FIGURE_FUNCTIONS: dict[str, FigureFunction] = {
    recipe.name: recipe
    for recipe in (
        _recipe(atmosphere.standard_temperature_degc, "standard_temperature degC", "pressure_altitude ft", "standard day at {pressure_altitude}"),
        _recipe(atmosphere.standard_pressure_hpa, "standard_pressure hPa", "pressure_altitude ft", "standard day at {pressure_altitude}"),
        _recipe(atmosphere.pressure_altitude_ft, "pressure_altitude ft", "pressure hPa", "standard day with {pressure}"),
        _recipe(atmosphere.pressure_altitude_at_ft, "pressure_altitude_at ft", "elevation ft, qnh hPa", "{elevation} with {qnh}"),
        _recipe(atmosphere.density_altitude_ft, "density_altitude ft", "pressure_altitude ft, temperature degC", "{pressure_altitude} at {temperature}"),
        _recipe(atmosphere.density_ratio, "density_ratio 1", "pressure_altitude ft, temperature degC", "{pressure_altitude} at {temperature}"),
        _recipe(atmosphere.isa_deviation_degc, "isa_deviation degC", "pressure_altitude ft, temperature degC", "{temperature} against the standard day at {pressure_altitude}"),
        _recipe(atmosphere.cold_temperature_error_ft, "cold_temperature_error ft", "height ft, elevation ft, temperature degC", "{height} above {elevation} at {temperature}"),
        _recipe(airspeeds.mach_from_cas, "mach_from_cas 1", "cas kt, altitude ft", "{cas} at {altitude}"),
        _recipe(airspeeds.cas_from_mach_kt, "cas_from_mach kt", "mach 1, altitude ft", "Mach {mach} at {altitude}"),
        _recipe(airspeeds.tas_from_cas_kt, "tas_from_cas kt", "cas kt, altitude ft, temperature degC", "{cas} at {altitude} and {temperature}"),
        _recipe(airspeeds.tas_from_mach_kt, "tas_from_mach kt", "mach 1, temperature degC", "Mach {mach} at {temperature}"),
        _recipe(airspeeds.cas_from_tas_kt, "cas_from_tas kt", "tas kt, altitude ft, temperature degC", "{tas} at {altitude} and {temperature}"),
        _recipe(airspeeds.crossover_altitude_ft, "crossover_altitude ft", "cas kt, mach 1", "{cas} and Mach {mach}"),
        _recipe(airspeeds.total_temperature_degc, "total_temperature degC", "mach 1, temperature degC", "Mach {mach} at {temperature}"),
        _recipe(wind.headwind_kt, "headwind kt", "direction deg, wind kt, runway_heading deg", "{wind} from {direction} on {runway_heading}"),
        _recipe(wind.tailwind_kt, "tailwind kt", "direction deg, wind kt, runway_heading deg", "{wind} from {direction} on {runway_heading}"),
        _recipe(wind.crosswind_kt, "crosswind kt", "direction deg, wind kt, runway_heading deg", "{wind} from {direction} on {runway_heading}"),
        _recipe(wind.factored_headwind_kt, "factored_headwind kt", "direction deg, wind kt, runway_heading deg", "{wind} from {direction} on {runway_heading}"),
        _recipe(wind.drift_deg, "drift deg", "track deg, tas kt, direction deg, wind kt", "{wind} from {direction} on {track} at {tas}"),
        _recipe(wind.ground_speed_kt, "ground_speed kt", "track deg, tas kt, direction deg, wind kt", "{tas} with {wind} from {direction} on {track}"),
        _recipe(magnetism.variation_deg, "variation deg", "latitude deg, longitude deg, altitude ft, year 1", "World Magnetic Model at {latitude}, {longitude}"),
        _recipe(magnetism.magnetic_deg, "magnetic deg", "true deg, variation_east deg", "{true} with variation {variation_east}", is_direction=True),
        _recipe(magnetism.true_deg, "true deg", "magnetic_heading deg, variation_east deg", "{magnetic_heading} with variation {variation_east}", is_direction=True),
        _recipe(magnetism.runway_heading_deg, "runway_heading deg", "runway text", "{runway}", is_direction=True),
        _recipe(magnetism.runway_heading_difference_deg, "runway_heading_difference deg", "runway text, heading deg", "{runway} and {heading}"),
        _recipe(great_circle.distance_nm, "distance NM", "latitude deg, longitude deg, to_latitude deg, to_longitude deg", "{latitude}, {longitude} to {to_latitude}, {to_longitude}"),
        _recipe(great_circle.along_line_nm, "along_line NM", "latitude deg, longitude deg, from_latitude deg, from_longitude deg, course deg", "{latitude}, {longitude} along {course} from {from_latitude}, {from_longitude}"),
        _recipe(great_circle.beside_line_nm, "beside_line NM", "latitude deg, longitude deg, from_latitude deg, from_longitude deg, course deg", "{latitude}, {longitude} beside {course} from {from_latitude}, {from_longitude}"),
        _recipe(guidance.received_deviation, "received_deviation 1", "deviation 1, received text", "{deviation}, received {received}"),
        _recipe(mass.cg_on_mac_pct, "cg_on_mac %", "arm m, leading_edge m, chord m", "{arm} on a chord of {chord} from {leading_edge}"),
        _recipe(mass.zero_fuel_mass_kg, "zero_fuel_mass kg", "empty kg, load kg", "{empty} plus {load}"),
        _recipe(mass.takeoff_mass_kg, "takeoff_mass kg", "zero_fuel kg, fuel kg, taxi_fuel kg", "{zero_fuel} plus {fuel} less {taxi_fuel}"),
        _recipe(mass.gross_mass_kg, "gross_mass kg", "zero_fuel kg, fuel kg", "{zero_fuel} plus {fuel}"),
        _recipe(mass.landing_mass_kg, "landing_mass kg", "takeoff kg, burn kg", "{takeoff} less {burn}"),
        _recipe(speeds.speed_at_mass_kt, "speed_at_mass kt", "speed kt, reference kg, mass kg", "{speed} at {reference}, scaled to {mass}"),
        _recipe(speeds.mass_at_speed_kg, "mass_at_speed kg", "speed kt, reference_speed kt, reference kg", "{reference} at {reference_speed}, scaled to {speed}"),
        _recipe(speeds.stall_in_bank_kt, "stall_in_bank kt", "stall kt, bank deg", "{stall} in a bank of {bank}"),
        _recipe(speeds.minimum_v2_kt, "minimum_v2 kt", "stall kt, control kt", "1.13 times {stall}[, 1.10 times {control}]"),
        _recipe(speeds.minimum_vr_kt, "minimum_vr kt", "v1 kt, control kt", "{v1}[, 1.05 times {control}]"),
        _recipe(speeds.minimum_vref_kt, "minimum_vref kt", "stall kt, control kt", "1.23 times {stall}[, {control}]"),
        _recipe(speeds.final_approach_kt, "final_approach kt", "vref kt, headwind kt, gust kt", "{vref} and half of {headwind}[ and {gust}]"),
        _recipe(takeoff.acceleration_m_s2, "acceleration m/s^2", "thrust kN, mass kg, slope %, friction 1", "{thrust} on {mass}"),
        _recipe(takeoff.rolling_acceleration_m_s2, "rolling_acceleration m/s^2", "thrust kN, mass kg, airspeed kt, drag_area m^2, density_ratio 1, slope %, friction 1", "{thrust} on {mass} after rolling friction and drag"),
        _recipe(takeoff.mean_acceleration_m_s2, "mean_acceleration m/s^2", "speed kt, distance m", "{speed} within {distance}"),
        _recipe(takeoff.ground_roll_m, "ground_roll m", "speed kt, acceleration m/s^2", "{speed} with {acceleration}"),
        _recipe(takeoff.time_to_speed_s, "time_to_speed s", "speed kt, acceleration m/s^2", "{speed} with {acceleration}"),
        _recipe(takeoff.roll_at_mass_m, "roll_at_mass m", "roll m, reference kg, mass kg", "{roll} at {reference}, for {mass}"),
        _recipe(takeoff.roll_in_air_m, "roll_in_air m", "roll m, density_ratio 1", "{roll} with density ratio {density_ratio}"),
        _recipe(takeoff.roll_in_wind_m, "roll_in_wind m", "roll m, liftoff kt, headwind kt", "{roll} with headwind {headwind}"),
        _recipe(takeoff.distance_with_margin_m, "distance_with_margin m", "distance m", "115 % of {distance}"),
        _recipe(fuel.mass_kg, "mass kg", "volume l, density kg/l", "{volume} at {density}"),
        _recipe(fuel.after_uplift_kg, "after_uplift kg", "before kg, uplift l, density kg/l", "{before} plus {uplift} at {density}"),
        _recipe(fuel.volume_l, "volume l", "fuel kg, density kg/l", "{fuel} at {density}"),
        _recipe(fuel.burn_kg, "burn kg", "flow kg/h, time min", "{flow} for {time}"),
        _recipe(fuel.endurance_min, "endurance min", "fuel kg, flow kg/h", "{fuel} at {flow}"),
        _recipe(fuel.minimum_contingency_kg, "minimum_contingency kg", "trip kg, holding kg/h", "5 % of {trip}, at least 5 min at {holding}"),
        _recipe(fuel.final_reserve_kg, "final_reserve kg", "holding kg/h, time min", "{holding}[ for {time}]"),
        _recipe(fuel.domestic_reserve_kg, "domestic_reserve kg", "cruise kg/h", "45 min at {cruise}"),
        _recipe(fuel.vfr_reserve_kg, "vfr_reserve kg", "cruise kg/h, time min", "{cruise}[ for {time}]"),
        _recipe(fuel.fuel_sum_kg, "fuel_sum kg", "taxi kg, trip kg, contingency kg, alternate kg, final_reserve kg, extra kg", "{taxi}, {trip}, {contingency}, {alternate}, {final_reserve}[ and {extra}]"),
        _recipe(fuel.minimum_block_kg, "minimum_block kg", "taxi kg, trip kg, holding kg/h, alternate kg", "{taxi}, {trip}, contingency, 30 min at {holding}[ and {alternate}]"),
        _recipe(fuel.expected_kg, "expected kg", "block kg, flow kg/h, time min", "{block} after {time} at {flow}"),
        _recipe(fuel.planned_on_board_kg, "planned_on_board kg", "block kg, taxi kg, trip kg, to_go kg", "{block} less {taxi} and {trip}, plus {to_go}"),
        _recipe(fuel.at_destination_kg, "at_destination kg", "on_board kg, to_go kg", "{on_board} less {to_go}"),
        _recipe(fuel.lost_kg, "lost kg", "block kg, used kg, on_board kg", "{block} less {used} used, with {on_board}"),
        _recipe(fuel.imbalance_kg, "imbalance kg", "left kg, right kg", "{left} and {right}"),
        _recipe(landing.required_landing_distance_m, "required_landing_distance m", "distance m, surface text", "{distance} within 60 % of a runway that is {surface}"),
        _recipe(descent.distance_to_descend_nm, "distance_to_descend NM", "height_to_lose ft, path deg", "{height_to_lose}[ at {path}]"),
        _recipe(descent.descent_rate_ft_min, "descent_rate ft/min", "ground_speed kt, path deg", "{ground_speed}[ at {path}]"),
        _recipe(descent.required_rate_ft_min, "required_rate ft/min", "height_to_lose ft, distance NM, ground_speed kt", "{height_to_lose} in {distance} at {ground_speed}"),
        _recipe(descent.path_angle_deg, "path_angle deg", "height_to_lose ft, distance NM", "{height_to_lose} in {distance}"),
    )
}  # fmt: skip
