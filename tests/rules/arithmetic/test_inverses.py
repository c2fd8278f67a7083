"""Properties of the functions beside single numbers: inverses, symmetries and limits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.arithmetic import (
    airspeeds,
    atmosphere,
    descent,
    entry_errors,
    fuel,
    landing,
    magnetism,
    mass,
    speeds,
    takeoff,
    times,
    wind,
)
from rules.arithmetic.domain import DomainError
from rules.arithmetic.lookup_table import LookupTable

ALTITUDES_FT = st.floats(-5000, 45000)
DIRECTIONS_DEG = st.floats(0, 360)
near = pytest.approx


@given(ALTITUDES_FT)
def test_pressure_and_altitude(altitude_ft: float) -> None:
    """Pressure altitude is the altitude that has the pressure."""
    back = atmosphere.pressure_altitude_ft(atmosphere.standard_pressure_hpa(altitude_ft))
    assert back == near(altitude_ft, abs=1e-6)


@given(st.floats(-5000, 33000))
def test_density_altitude_of_the_standard_day(altitude_ft: float) -> None:
    """On the standard day density altitude is pressure altitude, and the deviation is 0."""
    degc = atmosphere.standard_temperature_degc(altitude_ft)
    assert atmosphere.density_altitude_ft(altitude_ft, degc) == near(altitude_ft, abs=1e-3)
    assert atmosphere.isa_deviation_degc(altitude_ft, degc) == near(0, abs=1e-9)


@given(st.floats(40, 320), ALTITUDES_FT.filter(lambda ft: ft < 35000), st.floats(-60, 40))
def test_airspeeds_there_and_back(cas_kt: float, altitude_ft: float, degc: float) -> None:
    """Calibrated to true to calibrated is the same speed; true is never less than calibrated in thin air."""
    tas_kt = airspeeds.tas_from_cas_kt(cas_kt, altitude_ft, degc)
    assert airspeeds.cas_from_tas_kt(tas_kt, altitude_ft, degc) == near(cas_kt, rel=1e-9)
    if altitude_ft > 0 and atmosphere.isa_deviation_degc(altitude_ft, degc) > 0:
        assert tas_kt > cas_kt


@pytest.mark.parametrize(
    ("cas_kt", "mach", "altitude_ft"), [(250, 0.70, 32260), (300, 0.78, 29314), (320, 0.85, 30705)]
)
def test_crossover(cas_kt: float, mach: float, altitude_ft: float) -> None:
    """At the crossover altitude the calibrated airspeed is the Mach number."""
    assert airspeeds.crossover_altitude_ft(cas_kt, mach) == near(altitude_ft, abs=1)
    assert airspeeds.mach_from_cas(cas_kt, altitude_ft) == near(mach, abs=1e-4)


@given(DIRECTIONS_DEG, st.floats(0, 60), DIRECTIONS_DEG)
def test_wind_parts(direction_deg: float, wind_kt: float, heading_deg: float) -> None:
    """The components add up to the wind; the factors for headwind and tailwind are conservative."""
    along = wind.headwind_kt(direction_deg, wind_kt, heading_deg)
    across = wind.crosswind_kt(direction_deg, wind_kt, heading_deg)
    assert along**2 + across**2 == near(wind_kt**2, abs=1e-6)
    assert wind.tailwind_kt(direction_deg, wind_kt, heading_deg) == -along
    assert wind.factored_headwind_kt(direction_deg, wind_kt, heading_deg) <= max(along, 0.0)


@given(DIRECTIONS_DEG, DIRECTIONS_DEG)
def test_the_short_way_round(one_deg: float, other_deg: float) -> None:
    """The angle leads from one direction to the other, and is at most half a circle."""
    turn = wind.angle_difference_deg(one_deg, other_deg)
    assert -180 <= turn <= 180
    assert ((one_deg + turn) - other_deg) % 360 == near(0, abs=1e-6) or (
        (one_deg + turn) - other_deg
    ) % 360 == near(360, abs=1e-6)


@pytest.mark.parametrize(
    ("runway", "heading_deg", "gap_deg"),
    [("14", 143, 3), ("14L", 143, 3), ("01", 358, 12), ("36", 3, 3), ("9", 90, 0), ("22", 266, 46)],
)
def test_runway_names(runway: str, heading_deg: float, gap_deg: float) -> None:
    """A runway's designator gives its heading, the short way round; 26 for 22 is detected (NTSB/AAR-07/05)."""
    assert magnetism.runway_heading_difference_deg(runway, heading_deg) == near(gap_deg)


def test_variation_of_the_newer_model() -> None:
    """From 2025 on the newer model is used: WMM2025 Test Values, 80 N 0 E, 1.28 E (from memory)."""
    assert magnetism.variation_deg(80, 0, 0, 2025.0) == near(1.28, abs=0.005)
    assert magnetism.variation_deg(80, 0, 0, 2024.9) != near(1.28, abs=0.005)
    assert magnetism.magnetic_deg(magnetism.true_deg(143, -4), -4) == near(143)


@given(st.floats(20000, 80000), st.floats(20000, 80000), st.floats(80, 180))
def test_speed_and_mass(reference_kg: float, mass_kg: float, speed_kt: float) -> None:
    """The mass of a scaled speed is the mass that it was scaled to."""
    scaled = speeds.speed_at_mass_kt(speed_kt, reference_kg, mass_kg)
    assert speeds.mass_at_speed_kg(scaled, speed_kt, reference_kg) == near(mass_kg, rel=1e-9)


@pytest.mark.parametrize(
    ("got", "want"),
    [
        (speeds.minimum_v2_kt(118), 118 * 1.13),
        (speeds.minimum_v2_kt(100, 110), 121),
        (speeds.minimum_vr_kt(128, 110), 128),
        (speeds.minimum_vr_kt(110, 110), 115.5),
        (speeds.minimum_vref_kt(104), 104 * 1.23),
        (speeds.minimum_vref_kt(80, 105), 105),
        (speeds.final_approach_kt(128, 20), 138),
        (speeds.final_approach_kt(128, 0), 133),
        (speeds.final_approach_kt(128, 30, 15), 148),
    ],
)
def test_minimum_speeds(got: float, want: float) -> None:
    """Of several minimum speeds the greatest counts (14 CFR 25.107, 25.125)."""
    assert got == near(want)


def test_the_roll() -> None:
    """Acceleration, distance and time of one steady roll agree with each other."""
    push = takeoff.acceleration_m_s2(180, 60000)
    assert push == near(180 / 60 - 0.02 * 9.80665)
    way = takeoff.ground_roll_m(138, push)
    assert takeoff.rolling_acceleration_m_s2(180, 60000, 0, 8) == near(push)
    assert takeoff.rolling_acceleration_m_s2(180, 60000, 70, 8, density_ratio=0.5) < push
    assert takeoff.mean_acceleration_m_s2(138, way) == near(push)
    assert takeoff.distance_with_margin_m(1000) == near(1150)
    assert takeoff.roll_in_air_m(1000, 0.8) == near(1562.5)


def test_masses() -> None:
    """The demonstration's masses add up, and a position on the chord gives its arm again."""
    assert mass.zero_fuel_mass_kg(34200, 14400) == 48600
    assert mass.takeoff_mass_kg(48600, 8200, 200) == 56600
    assert mass.takeoff_mass_kg(48600, 100, 200) == 48600
    assert mass.landing_mass_kg(56600, 5000) == 51600
    assert mass.gross_mass_kg(48600, 6180) == 54780


def test_fuel() -> None:
    """Sums, burn, leak and imbalance of one flight agree with each other."""
    assert fuel.fuel_sum_kg(200, 5000, 250, 1500, 1100, 150) == 8200
    assert fuel.minimum_block_kg(200, 5000, 2100, 1500) == near(200 + 5000 + 250 + 1500 + 1050)
    assert fuel.endurance_min(fuel.burn_kg(2400, 30), 2400) == near(30)
    assert fuel.expected_kg(8200, 2400, 60) == 5800
    assert fuel.expected_kg(100, 2400, 60) == 0
    assert fuel.lost_kg(8200, 2400, 5300) == 500
    assert fuel.imbalance_kg(2900, 3100) == 200
    assert fuel.planned_on_board_kg(8200, 200, 1900, 0) == 6100
    assert fuel.planned_on_board_kg(8200, 200, 1900, 1900) == 8000
    assert fuel.at_destination_kg(6700, 520) == 6180
    assert fuel.at_destination_kg(500, 700) == -200
    assert fuel.volume_l(fuel.mass_kg(1000, 0.8), 0.8) == near(1000)


@pytest.mark.parametrize(("surface", "share"), [("dry", 0.6), ("wet", 0.6 / 1.15), ("damp", 0.6 / 1.15)])
def test_landing_runways(surface: str, share: float) -> None:
    """The landing distance is the fraction of the runway that the rules allow."""
    assert landing.required_landing_distance_m(1000, surface) * share == near(1000)


def test_a_contaminated_runway_has_no_factor() -> None:
    """The rules give no factor for a contaminated runway, so the function refuses it."""
    with pytest.raises(DomainError, match="a runway that is contaminated"):
        landing.required_landing_distance_m(1000, "contaminated")


def test_descents() -> None:
    """Distance, angle and rate of one descent agree with each other."""
    way_nm = descent.distance_to_descend_nm(30000, 3.0)
    assert descent.path_angle_deg(30000, way_nm) == near(3.0)
    assert descent.required_rate_ft_min(30000, way_nm, 420) == near(descent.descent_rate_ft_min(420, 3.0))


def test_readings_of_a_clock() -> None:
    """A clock restarts at midnight, and the time between two readings continues over it."""
    assert times.duration_of_day_s(86000, 400) == 800
    assert times.duration_of_day_s(29520, 34080) == 4560


@pytest.mark.parametrize(
    ("expected", "actual", "unit", "words"),
    [
        (8200, 18078, "kg", "pounds entered as kilograms?"),
        (8200, 3719.5, "kg", "kilograms entered as pounds?"),
        (8200, 8200 * 1.77, "kg", "pounds per litre"),
        (8200, 10212, "kg", "litres of fuel entered as kilograms?"),
        (8200, 6585, "kg", "kilograms entered as litres of fuel?"),
        (3785, 1000, "l", "US gallons entered as litres?"),
        (640, 2100, "ft", "feet entered as metres?"),
        (8200, 82000, "kg", "one digit too many"),
        (128, 12.8, "kt", "one digit missing?"),
        (8200, 7400, "kg", ""),
        (128, 282, "kt", ""),
    ],
)
def test_unit_mixups(expected: float, actual: float, unit: str, words: str) -> None:
    """A ratio of a known mix-up of units is named; any other is not."""
    text = entry_errors.unit_mixup(expected, actual, unit, fuel=unit == "kg")
    assert words in text
    assert bool(words) is bool(text)


@pytest.mark.parametrize(
    ("expected", "actual", "words"),
    [
        (362900, 262900, "2 typed for 3?"),
        (56600, 46610, "4 typed for 5?"),
        (56600, 65600, "transposed digits?"),
        (128, 182, "transposed digits?"),
        (56600, 56580, ""),
        (56600, 41230, ""),
        (99, 89, ""),
        (56600, 5660, ""),
    ],
)
def test_mistyped_digits(expected: float, actual: float, words: str) -> None:
    """One wrong digit, or two transposed digits, is named (ATSB AO-2009-012)."""
    text = entry_errors.mistyped_digit(expected, actual)
    assert words in text
    assert bool(words) is bool(text)


PLANE = LookupTable((40.0, 60.0), (0.0, 10.0), ((100.0, 80.0), (120.0, 96.0)))


@pytest.mark.parametrize(
    ("x", "y", "value"),
    [(40, 0, 100), (60, 10, 96), (50, 0, 110), (40, 5, 90), (50, 5, 99), (60, 0, 120)],
)
def test_tables_of_two_sides(x: float, y: float, value: float) -> None:
    """A table with two sides is linear between its points and exact at them."""
    assert PLANE.interpolate(x, y) == near(value)


def test_tables_of_one_side() -> None:
    """A table with one side, or with a single point, is linear between its points and exact at them."""
    trim = LookupTable((8.0, 24.0, 32.0), (), ((7.8,), (5.2,), (3.9,)))
    assert [trim.interpolate(x) for x in (8.0, 16.0, 24.0, 32.0)] == near([7.8, 6.5, 5.2, 3.9])
    assert LookupTable((5.0,), (), ((1.0,),)).interpolate(5.0) == 1.0
