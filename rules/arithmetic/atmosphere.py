"""Standard atmosphere: pressure, density, pressure altitude and density altitude, and the deviation of a day.

All altitudes are geopotential.  The model is that of ICAO Doc 7488/3 (1993), Manual of the ICAO Standard Atmosphere,
the same as ISO 2533:1975, from -5 to 32 km.

Takes: altitudes in feet, pressures in hPa, temperatures in degrees Celsius.  Gives: the same.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from rules.arithmetic.domain import require_positive, require_within

# ICAO Doc 7488/3, tables A and B: primary constants of the standard atmosphere.
SEA_LEVEL_K = 288.15
SEA_LEVEL_HPA = 1013.25
SEA_LEVEL_KG_M3 = 1.225
GRAVITY_M_S2 = 9.80665
GAS_CONSTANT_J_KG_K = 287.05287
HEAT_RATIO = 1.4
ICE_POINT_K = 273.15

# Exact by definition: international foot (1959), nautical mile (ICAO Annex 5).
METRES_PER_FOOT = 0.3048
METRES_PER_NAUTICAL_MILE = 1852.0
KT_PER_M_S = 3600.0 / METRES_PER_NAUTICAL_MILE

MIN_ALTITUDE_FT, MAX_ALTITUDE_FT = -16404.0, 104986.0
_COLDEST_DEGC, _HOTTEST_DEGC = -150.0, 100.0


class _Layer(NamedTuple):
    """Layer of the atmosphere: its base, and its temperature gradient."""

    base_m: float
    base_k: float
    base_hpa: float
    lapse_k_m: float


def _layers() -> tuple[_Layer, ...]:
    """Build the layers of ICAO Doc 7488/3, table D; the pressure at each base follows from the layer below."""
    layers = [_Layer(0.0, SEA_LEVEL_K, SEA_LEVEL_HPA, -0.0065)]
    for base_m, lapse_k_m in ((11000.0, 0.0), (20000.0, 0.001)):
        below = layers[-1]
        base_k = below.base_k + below.lapse_k_m * (base_m - below.base_m)
        layers.append(_Layer(base_m, base_k, _pressure_hpa(below, base_m), lapse_k_m))
    return tuple(layers)


def _pressure_hpa(layer: _Layer, height_m: float) -> float:
    """Pressure at a height in one layer, by the barometric formula."""
    rise_m = height_m - layer.base_m
    if layer.lapse_k_m == 0.0:
        return layer.base_hpa * math.exp(-GRAVITY_M_S2 * rise_m / (GAS_CONSTANT_J_KG_K * layer.base_k))
    power = -GRAVITY_M_S2 / (GAS_CONSTANT_J_KG_K * layer.lapse_k_m)
    return float(layer.base_hpa * (1.0 + layer.lapse_k_m * rise_m / layer.base_k) ** power)


def _height_m(layer: _Layer, pressure_hpa: float) -> float:
    """Height of a pressure in one layer, by the inverse barometric formula."""
    ratio = pressure_hpa / layer.base_hpa
    if layer.lapse_k_m == 0.0:
        return layer.base_m - GAS_CONSTANT_J_KG_K * layer.base_k / GRAVITY_M_S2 * math.log(ratio)
    power = -GAS_CONSTANT_J_KG_K * layer.lapse_k_m / GRAVITY_M_S2
    return float(layer.base_m + layer.base_k / layer.lapse_k_m * (ratio**power - 1.0))


_LAYERS = _layers()


def _layer_at(height_m: float) -> _Layer:
    """Find the layer of a height; the lowest one also serves below sea level."""
    return next((layer for layer in reversed(_LAYERS) if height_m >= layer.base_m), _LAYERS[0])


def _metres(pressure_altitude_ft: float) -> float:
    """Convert a pressure altitude to metres, within the range of the model."""
    require_within("pressure altitude in ft", pressure_altitude_ft, MIN_ALTITUDE_FT, MAX_ALTITUDE_FT)
    return pressure_altitude_ft * METRES_PER_FOOT


def kelvin(temperature_degc: float) -> float:
    """Convert an air temperature to kelvin; `DomainError` outside the range of air temperatures."""
    return require_within("temperature in degC", temperature_degc, _COLDEST_DEGC, _HOTTEST_DEGC) + ICE_POINT_K


def standard_temperature_degc(pressure_altitude_ft: float) -> float:
    """Temperature of the standard day.  Source: ICAO Doc 7488/3.

    Raises:
        DomainError: Above 32 km or below -5 km, as for every altitude in this module.
    """
    height_m = _metres(pressure_altitude_ft)
    layer = _layer_at(height_m)
    return layer.base_k + layer.lapse_k_m * (height_m - layer.base_m) - ICE_POINT_K


def standard_pressure_hpa(pressure_altitude_ft: float) -> float:
    """Pressure at a pressure altitude.  Source: ICAO Doc 7488/3."""
    height_m = _metres(pressure_altitude_ft)
    return _pressure_hpa(_layer_at(height_m), height_m)


def density_kg_m3(pressure_hpa: float, temperature_degc: float) -> float:
    """Density of dry air.  Source: the gas law with the constant of ICAO Doc 7488/3."""
    return (
        require_positive("pressure in hPa", pressure_hpa)
        * 100.0
        / (GAS_CONSTANT_J_KG_K * kelvin(temperature_degc))
    )


def density_ratio(pressure_altitude_ft: float, temperature_degc: float) -> float:
    """Density of the day over that of the standard day at sea level (sigma).  Source: ICAO Doc 7488/3."""
    return density_kg_m3(standard_pressure_hpa(pressure_altitude_ft), temperature_degc) / SEA_LEVEL_KG_M3


def pressure_altitude_ft(pressure_hpa: float) -> float:
    """Altitude at which the standard atmosphere has a static pressure.  Source: ICAO Doc 7488/3."""
    low, high = standard_pressure_hpa(MAX_ALTITUDE_FT), standard_pressure_hpa(MIN_ALTITUDE_FT)
    require_within("pressure in hPa", pressure_hpa, low, high)
    layer = next((layer for layer in reversed(_LAYERS) if pressure_hpa <= layer.base_hpa), _LAYERS[0])
    return _height_m(layer, pressure_hpa) / METRES_PER_FOOT


def pressure_altitude_at_ft(elevation_ft: float, qnh_hpa: float) -> float:
    """Pressure altitude of a place, from its elevation and QNH.

    An altimeter set to QNH shows elevation, so the two differ by the pressure altitude of QNH itself.
    Source: ICAO Annex 10 Vol. I definitions with Doc 7488/3; worked example in FAA-H-8083-25, chapter 11.
    """
    require_within("QNH in hPa", qnh_hpa, 850.0, 1090.0)
    return elevation_ft + pressure_altitude_ft(qnh_hpa)


def isa_deviation_degc(pressure_altitude_ft: float, temperature_degc: float) -> float:
    """Temperature difference from the standard day, warmer positive.  Source: ICAO Doc 7488/3."""
    return kelvin(temperature_degc) - ICE_POINT_K - standard_temperature_degc(pressure_altitude_ft)


def density_altitude_ft(pressure_altitude_ft: float, temperature_degc: float) -> float:
    """Altitude at which the standard day has the density of this day.

    Source: ICAO Doc 7488/3, gradient of the first layer.  `DomainError` where that altitude is above 11 km.
    """
    ratio = density_ratio(pressure_altitude_ft, temperature_degc)
    lapse_k_m = _LAYERS[0].lapse_k_m
    power = -lapse_k_m * GAS_CONSTANT_J_KG_K / (GRAVITY_M_S2 + lapse_k_m * GAS_CONSTANT_J_KG_K)
    height_m = float(SEA_LEVEL_K / lapse_k_m * (ratio**power - 1.0))
    require_within(
        "density altitude in ft", height_m / METRES_PER_FOOT, MIN_ALTITUDE_FT, 11000.0 / METRES_PER_FOOT
    )
    return height_m / METRES_PER_FOOT


def speed_of_sound_kt(temperature_degc: float) -> float:
    """Speed of sound in dry air.  Source: ICAO Doc 7488/3, a = sqrt(gamma R T)."""
    return math.sqrt(HEAT_RATIO * GAS_CONSTANT_J_KG_K * kelvin(temperature_degc)) * KT_PER_M_S


def cold_temperature_error_ft(height_ft: float, elevation_ft: float, temperature_degc: float) -> float:
    """Height by which an altimeter reads too high on a cold day; negative on a warm one.

    Args:
        height_ft: Indicated height above the place whose QNH is set.
        elevation_ft: Elevation of that place.
        temperature_degc: Temperature there.

    Source: ICAO Doc 8168 Vol. I (PANS-OPS), temperature correction, the more accurate form (from memory).
    """
    lapse_k_ft = -_LAYERS[0].lapse_k_m * METRES_PER_FOOT
    at_sea_level_k = kelvin(temperature_degc) + lapse_k_ft * elevation_ft
    colder_k = SEA_LEVEL_K - at_sea_level_k
    return height_ft * colder_k / (at_sea_level_k - 0.5 * lapse_k_ft * (height_ft + elevation_ft))
