"""The atmosphere agrees with the standard's table, and airspeeds with its formulas."""

from __future__ import annotations

import pytest

from mock_sim.common.atmosphere import (
    KT_MS,
    calibrated_kt,
    density_kg_m3,
    mach,
    pressure_hpa,
    standard_height_ft,
)

TABLE = [  # altitude ft, temperature degC, pressure hPa, density kg/m3: ICAO Doc 7488, computed from its constants
    (0.0, 15.0, 1013.25, 1.2250),
    (5000.0, 5.1, 843.07, 1.0555),
    (10000.0, -4.8, 696.82, 0.9046),
    (20000.0, -24.6, 465.63, 0.6527),
    (35000.0, -54.3, 238.42, 0.3796),
    (41000.0, -56.5, 178.74, 0.2874),
]


@pytest.mark.parametrize(("altitude_ft", "temperature_c", "hpa", "kg_m3"), TABLE)
def test_the_standard_atmosphere(altitude_ft: float, temperature_c: float, hpa: float, kg_m3: float) -> None:
    """Pressure and density agree with the table."""
    assert pressure_hpa(altitude_ft) == pytest.approx(hpa, rel=3e-4)
    assert density_kg_m3(hpa, temperature_c) == pytest.approx(kg_m3, rel=1e-3)


@pytest.mark.parametrize("altitude_ft", [-1000.0, 0.0, 5883.0, 30000.0])
def test_height_and_pressure_are_inverse(altitude_ft: float) -> None:
    """Below the tropopause the height of a pressure gives that pressure again."""
    assert standard_height_ft(pressure_hpa(altitude_ft)) == pytest.approx(altitude_ft, abs=0.01)


@pytest.mark.parametrize(
    ("cas_kt", "altitude_ft", "temperature_c", "mach_number", "tas_kt"),
    [
        (100.0, 5000.0, 5.094, 0.1656, 107.7),
        (250.0, 10000.0, -4.812, 0.4523, 288.7),
        (300.0, 30000.0, -44.436, 0.7906, 465.9),
    ],
)
def test_airspeeds(
    cas_kt: float, altitude_ft: float, temperature_c: float, mach_number: float, tas_kt: float
) -> None:
    """True airspeed, Mach number and calibrated airspeed belong together as the standard's formulas say."""
    number = mach(tas_kt * KT_MS, temperature_c)
    assert number == pytest.approx(mach_number, abs=3e-4)
    assert calibrated_kt(number, pressure_hpa(altitude_ft)) == pytest.approx(cas_kt, abs=0.2)
