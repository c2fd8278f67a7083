"""The standard atmosphere, and airspeeds in it.

Takes: heights in ft, pressures in hPa, speeds in m/s.  Gives: the same.
Source: ICAO Doc 7488 (constants 288.15 K, 1013.25 hPa, -6.5 K/km to 11 km, R 287.05287, g 9.80665, gamma 1.4).
"""

from __future__ import annotations

from math import exp, sqrt

FT_M = 0.3048
KT_MS = 1852.0 / 3600.0
STANDARD_HPA = 1013.25
SEA_K = 288.15
LAPSE_K_FT = 0.0065 * FT_M
EXPONENT = 9.80665 / (0.0065 * 287.05287)
TROPOPAUSE_FT = 11000.0 / FT_M
TROPOPAUSE_K = 216.65
ABOVE_FT = 287.05287 * TROPOPAUSE_K / 9.80665 / FT_M


def pressure_hpa(pressure_altitude_ft: float) -> float:
    """Return the static pressure at a pressure altitude, hPa.

    Args:
        pressure_altitude_ft: height in the standard atmosphere.
    """
    low = min(pressure_altitude_ft, TROPOPAUSE_FT)
    pressure: float = STANDARD_HPA * (1.0 - LAPSE_K_FT * low / SEA_K) ** EXPONENT
    return pressure * exp((low - pressure_altitude_ft) / ABOVE_FT)


def standard_height_ft(pressure: float) -> float:
    """Return the height in the standard atmosphere with a given pressure; exact below the tropopause.

    Args:
        pressure: hPa.
    """
    height: float = SEA_K / LAPSE_K_FT * (1.0 - (pressure / STANDARD_HPA) ** (1.0 / EXPONENT))
    return height


def density_kg_m3(pressure: float, temperature_c: float) -> float:
    """Return the density of air, kg/m3.

    Args:
        pressure: hPa.
        temperature_c: degrees Celsius.
    """
    return pressure * 100.0 / (287.05287 * (temperature_c + 273.15))


def mach(true_ms: float, temperature_c: float) -> float:
    """Return the Mach number of a true airspeed.

    Args:
        true_ms: true airspeed, m/s.
        temperature_c: static temperature, degrees Celsius.
    """
    return true_ms / sqrt(1.4 * 287.05287 * (temperature_c + 273.15))


def calibrated_kt(mach_number: float, pressure: float) -> float:
    """Return the calibrated airspeed, kt.

    Args:
        mach_number: Mach number, below 1.
        pressure: static pressure, hPa.
    """
    impact = pressure * ((1.0 + 0.2 * mach_number * mach_number) ** 3.5 - 1.0)
    at_sea: float = (impact / STANDARD_HPA + 1.0) ** (2.0 / 7.0) - 1.0
    return 661.4786 * sqrt(5.0 * max(0.0, at_sea))
