"""Numbers outside a function's domain are refused with a plain message."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from rules.arithmetic import (
    airspeeds,
    atmosphere,
    descent,
    entry_errors,
    fuel,
    magnetism,
    mass,
    speeds,
    takeoff,
    wind,
)
from rules.arithmetic.domain import DomainError
from rules.arithmetic.lookup_table import LookupTable

NOT_A_NUMBER = math.nan


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: atmosphere.standard_pressure_hpa(2e5), "pressure altitude in ft of 200000"),
        (lambda: atmosphere.standard_temperature_degc(NOT_A_NUMBER), "pressure altitude in ft of nan"),
        (lambda: atmosphere.pressure_altitude_ft(0.0), "pressure in hPa of 0"),
        (lambda: atmosphere.pressure_altitude_at_ft(0, 29.92), "QNH in hPa of 29.92"),
        (lambda: atmosphere.density_kg_m3(1000, -300), "temperature in degC of -300"),
        (lambda: atmosphere.density_altitude_ft(36000, 60), "density altitude"),
        (lambda: airspeeds.mach_from_cas(-1, 0), "calibrated airspeed in kt of -1"),
        (lambda: airspeeds.mach_from_cas(500, 41000), "Mach number"),
        (lambda: airspeeds.tas_from_mach_kt(1.2, 0), "Mach number of 1.2"),
        (lambda: airspeeds.crossover_altitude_ft(300, 0.0), "Mach number of 0"),
        (lambda: airspeeds.crossover_altitude_ft(20, 0.99), "20 kt and Mach 0.99"),
        (lambda: wind.headwind_kt(0, -1, 0), "wind in kt of -1"),
        (lambda: wind.drift_deg(0, 20, 90, 30), "a crosswind of 30 kt at 20 kt"),
        (lambda: wind.drift_deg(0, 0, 90, 3), "true airspeed in kt of 0"),
        (lambda: magnetism.variation_deg(91, 0, 0, 2025), "latitude in deg of 91"),
        (lambda: magnetism.variation_deg(0, 0, 0, 2031), "year of 2031"),
        (lambda: magnetism.runway_heading_deg("37"), "runway '37'"),
        (lambda: magnetism.runway_heading_deg("00"), "runway '00'"),
        (lambda: magnetism.runway_heading_deg("14X"), "runway '14X'"),
        (lambda: mass.cg_on_mac_pct(1, 1, 0), "chord in m of 0"),
        (lambda: mass.takeoff_mass_kg(0, 1, 1), "zero-fuel mass in kg of 0"),
        (lambda: mass.landing_mass_kg(1000, 2000), "landing mass in kg of -1000"),
        (lambda: speeds.speed_at_mass_kt(100, 0, 1), "reference mass in kg of 0"),
        (lambda: speeds.load_factor(90), "bank in deg of 90"),
        (lambda: speeds.minimum_v2_kt(0), "stall speed in kt of 0"),
        (lambda: takeoff.acceleration_m_s2(100, 0), "mass in kg of 0"),
        (lambda: takeoff.rolling_acceleration_m_s2(100, 50000, -5, 8), "airspeed in kt of -5"),
        (lambda: takeoff.rolling_acceleration_m_s2(100, 50000, 70, 8, 0), "density ratio of 0"),
        (lambda: takeoff.ground_roll_m(130, 0), "acceleration in m/s2 of 0"),
        (lambda: takeoff.roll_in_wind_m(1000, 100, 100), "a headwind of 100 kt"),
        (lambda: fuel.mass_kg(1000, 1.77), "fuel density in kg/l of 1.77"),
        (lambda: fuel.volume_l(1000, 0.45), "fuel density in kg/l of 0.45"),
        (lambda: fuel.endurance_min(1000, 0), "fuel flow in kg/h of 0"),
        (lambda: fuel.fuel_sum_kg(1, 1, 1, 1, -1), "final reserve in kg of -1"),
        (lambda: descent.required_rate_ft_min(1000, 0, 200), "distance in NM of 0"),
        (lambda: descent.required_rate_ft_min(1000, 5e-324, 200), "time in min of 0"),
        (lambda: descent.descent_rate_ft_min(100, 45), "path angle in deg of 45"),
        (lambda: entry_errors.unit_mixup(0, 1, "kg"), "expected value of 0"),
        (lambda: LookupTable((1.0, 1.0), (), ((1.0,), (2.0,))), "does not rise"),
        (lambda: LookupTable((1.0, 2.0), (), ((1.0,),)), "1 rows for 2 values"),
        (lambda: LookupTable((1.0,), (1.0, 2.0), ((1.0,),)), "a row of the wrong length"),
        (lambda: LookupTable((1.0, 2.0), (), ((1.0,), (2.0,))).interpolate(2.1), "value of 2.1"),
    ],
)
def test_impossible_numbers_are_refused(call: Callable[[], object], words: str) -> None:
    """An impossible number is refused, and the message names it and the valid range."""
    with pytest.raises(DomainError, match="expected") as refused:
        call()
    assert words in refused.value.what
    assert refused.value.expected
    assert refused.value.expected in str(refused.value)
