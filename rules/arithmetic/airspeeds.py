"""Conversions between calibrated airspeed, true airspeed and Mach number, below the speed of sound.

The relation between impact pressure, static pressure and Mach number is that of subsonic compressible flow
(Saint-Venant); calibrated airspeed equals true airspeed on the standard day at sea level (14 CFR 1.1).

Takes: knots, feet of pressure altitude, degrees Celsius.  Gives: knots and Mach numbers.
"""

from __future__ import annotations

import math

from rules.arithmetic.atmosphere import (
    HEAT_RATIO,
    ICE_POINT_K,
    MAX_ALTITUDE_FT,
    MIN_ALTITUDE_FT,
    SEA_LEVEL_HPA,
    SEA_LEVEL_K,
    kelvin,
    pressure_altitude_ft,
    speed_of_sound_kt,
    standard_pressure_hpa,
)
from rules.arithmetic.domain import DomainError, require_positive, require_within

SPEED_OF_SOUND_AT_SEA_LEVEL_KT = speed_of_sound_kt(SEA_LEVEL_K - ICE_POINT_K)
_POWER = HEAT_RATIO / (HEAT_RATIO - 1.0)
_HALF_RATIO = (HEAT_RATIO - 1.0) / 2.0


def _impact(mach: float) -> float:
    """Ratio of impact pressure to static pressure."""
    return float((1.0 + _HALF_RATIO * mach * mach) ** _POWER - 1.0)


def _mach(impact: float) -> float:
    """Mach number of an impact pressure ratio."""
    return math.sqrt(((impact + 1.0) ** (1.0 / _POWER) - 1.0) / _HALF_RATIO)


def _subsonic(mach: float) -> float:
    return require_within("Mach number", mach, 0.0, 1.0)


def mach_from_cas(cas_kt: float, altitude_ft: float) -> float:
    """Mach number at a calibrated airspeed and pressure altitude.

    Source: compressible subsonic flow with ICAO Doc 7488/3; `DomainError` from the speed of sound on, as in this whole module.
    """
    require_within("calibrated airspeed in kt", cas_kt, 0.0, SPEED_OF_SOUND_AT_SEA_LEVEL_KT)
    impact = _impact(cas_kt / SPEED_OF_SOUND_AT_SEA_LEVEL_KT) * SEA_LEVEL_HPA
    return _subsonic(_mach(impact / standard_pressure_hpa(altitude_ft)))


def cas_from_mach_kt(mach: float, altitude_ft: float) -> float:
    """Calibrated airspeed at a Mach number and pressure altitude.  Source: as `mach_from_cas`."""
    impact = _impact(_subsonic(mach)) * standard_pressure_hpa(altitude_ft)
    return _mach(impact / SEA_LEVEL_HPA) * SPEED_OF_SOUND_AT_SEA_LEVEL_KT


def tas_from_mach_kt(mach: float, temperature_degc: float) -> float:
    """True airspeed at a Mach number and static air temperature.  Source: the definition of Mach number (14 CFR 1.1)."""
    return _subsonic(mach) * speed_of_sound_kt(temperature_degc)


def mach_from_tas(tas_kt: float, temperature_degc: float) -> float:
    """Mach number at a true airspeed.  Source: the definition of Mach number (14 CFR 1.1)."""
    return _subsonic(tas_kt / speed_of_sound_kt(temperature_degc))


def tas_from_cas_kt(cas_kt: float, altitude_ft: float, temperature_degc: float) -> float:
    """True airspeed at a calibrated airspeed, pressure altitude and temperature.  Source: as `mach_from_cas`."""
    return tas_from_mach_kt(mach_from_cas(cas_kt, altitude_ft), temperature_degc)


def cas_from_tas_kt(tas_kt: float, altitude_ft: float, temperature_degc: float) -> float:
    """Calibrated airspeed at a true airspeed, pressure altitude and temperature.  Source: as `mach_from_cas`."""
    return cas_from_mach_kt(mach_from_tas(tas_kt, temperature_degc), altitude_ft)


def crossover_altitude_ft(cas_kt: float, mach: float) -> float:
    """Pressure altitude at which a calibrated airspeed and a Mach number are the same speed.

    Source: as `mach_from_cas`.  `DomainError` where there is no such altitude.
    """
    require_positive("Mach number", _subsonic(mach))
    pressure_hpa = SEA_LEVEL_HPA * _impact(cas_kt / SPEED_OF_SOUND_AT_SEA_LEVEL_KT) / _impact(mach)
    low, high = standard_pressure_hpa(MAX_ALTITUDE_FT), standard_pressure_hpa(MIN_ALTITUDE_FT)
    if not low <= pressure_hpa <= high:
        raise DomainError(f"{cas_kt:g} kt and Mach {mach:g}", "speeds that meet within the atmosphere")
    return pressure_altitude_ft(pressure_hpa)


def total_temperature_degc(mach: float, temperature_degc: float) -> float:
    """Temperature of air brought to rest.  Source: adiabatic compression, recovery factor 1."""
    return kelvin(temperature_degc) * (1.0 + _HALF_RATIO * _subsonic(mach) ** 2) - ICE_POINT_K
