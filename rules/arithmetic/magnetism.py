"""Magnetic variation by the World Magnetic Model, true and magnetic directions, and runway designators.

The library pygeomag evaluates the model from the coefficients published by NOAA NCEI and the British Geological Survey.

Takes: degrees, decimal years, runway designators.  Gives: degrees, east positive.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache

from pygeomag import GeoMag

from rules.arithmetic.atmosphere import METRES_PER_FOOT
from rules.arithmetic.domain import DomainError, require_within
from rules.arithmetic.wind import angle_difference_deg

# NOAA NCEI, The US/UK World Magnetic Model for 2020-2025 and for 2025-2030: each serves five years.
_MODELS = {2020: "wmm/WMM_2020.COF", 2025: "wmm/WMM_2025.COF"}
_MODEL_VALID_YEARS = 5.0
_DESIGNATOR = re.compile(r"(0?[1-9]|[12]\d|3[0-6])([LCR]?)")


@cache
def _model(epoch: int) -> GeoMag:
    """Load the model of one epoch, once."""
    return GeoMag(coefficients_file=_MODELS[epoch])


@lru_cache(maxsize=256)
def variation_deg(latitude_deg: float, longitude_deg: float, altitude_ft: float, year: float) -> float:
    """Magnetic variation (declination), east positive.

    Args:
        latitude_deg: Geodetic, WGS 84, north positive.
        longitude_deg: East positive.
        altitude_ft: Above mean sea level; the difference from the model's ellipsoid is negligible.
        year: Decimal year, 2025.5 for the middle of 2025.

    Source: NOAA NCEI World Magnetic Model.  `DomainError` outside its area and its years.
    """
    require_within("latitude in deg", latitude_deg, -90.0, 90.0)
    require_within("longitude in deg", longitude_deg, -180.0, 360.0)
    last = max(_MODELS)
    require_within("year", year, min(_MODELS), last + _MODEL_VALID_YEARS)
    epoch = max(epoch for epoch in _MODELS if epoch <= year)
    height_km = altitude_ft * METRES_PER_FOOT / 1000.0
    found = _model(epoch).calculate(glat=latitude_deg, glon=longitude_deg, alt=height_km, time=year)
    return float(found.d)


def magnetic_deg(true_deg: float, variation_east_deg: float) -> float:
    """Convert a true direction to a magnetic one, 0 to 360.  Source: FAA-H-8083-25, chapter 16 (east is least)."""
    return (true_deg - variation_east_deg) % 360.0


def true_deg(magnetic_heading_deg: float, variation_east_deg: float) -> float:
    """Convert a magnetic direction to a true one, 0 to 360.  Source: as `magnetic_deg`."""
    return (magnetic_heading_deg + variation_east_deg) % 360.0


def runway_heading_deg(runway: str) -> float:
    """Magnetic heading of a runway from its designator, to the nearest ten degrees: 140 of "14L".

    Source: ICAO Annex 14 Vol. I, 5.2.2 (from memory): one tenth of the magnetic bearing, 01 to 36.
    """
    found = _DESIGNATOR.fullmatch(runway.strip().upper())
    if found is None:
        raise DomainError(f"runway '{runway}'", "01 to 36, perhaps with L, C or R")
    return float(found[1]) * 10.0


def runway_heading_difference_deg(runway: str, heading_deg: float) -> float:
    """Angle between a heading and a runway's designator, 0 to 180.  Source: as `runway_heading_deg`."""
    return abs(angle_difference_deg(runway_heading_deg(runway), heading_deg))
