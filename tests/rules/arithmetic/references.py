"""Reference values of the arithmetic: published tables, worked examples and libraries of others.

Takes: nothing.  Gives: `CHECKS`, one row for each number, with our result, the reference, the tolerance
and the source.  "From memory" means that the document itself was not at hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

import numpy as np
from ambiance import Atmosphere
from openap import aero

from rules.arithmetic import (
    airspeeds,
    atmosphere,
    descent,
    entry_errors,
    fuel,
    great_circle,
    landing,
    magnetism,
    mass,
    speeds,
    takeoff,
    times,
    wind,
)

FT = 0.3048
IN_HG = 33.8639
LB = 0.45359237
INCH = 0.0254


class Check(NamedTuple):
    """Result beside its reference; `tolerance` is in `unit`."""

    theme: str
    what: str
    got: float
    want: float
    tolerance: float
    unit: str
    source: str

    @property
    def apart(self) -> float:
        """Difference of the two."""
        return abs(self.got - self.want)


# Geopotential metres, kelvin, hPa, kg/m3: ICAO Doc 7488/3, table 1 (from memory, as printed).
DOC_7488 = (
    (0, 288.150, 1013.250, 1.22500),
    (1000, 281.650, 898.745, 1.11164),
    (2000, 275.150, 794.952, 1.00649),
    (5000, 255.650, 540.199, 0.736116),
    (10000, 223.150, 264.363, 0.412707),
    (11000, 216.650, 226.321, 0.363918),
    (15000, 216.650, 120.446, 0.193674),
    (20000, 216.650, 54.7489, 0.0880349),
)

# Year, km, latitude, longitude, declination: NOAA NCEI, WMM2020 Test Values (as printed).
WMM_2020 = (
    (2020.0, 0, 80, 0, -1.28),
    (2020.0, 0, 0, 120, 0.16),
    (2020.0, 0, -80, 240, 69.36),
    (2020.0, 100, 80, 0, -1.70),
    (2020.0, 100, 0, 120, 0.16),
    (2020.0, 100, -80, 240, 68.78),
    (2022.5, 0, 80, 0, 0.01),
    (2022.5, 0, 0, 120, -0.06),
    (2022.5, 0, -80, 240, 69.13),
    (2022.5, 100, 80, 0, -0.41),
    (2022.5, 100, 0, 120, -0.05),
    (2022.5, 100, -80, 240, 68.55),
)


def doc_7488() -> Iterator[Check]:
    """Standard atmosphere beside the printed table."""
    for height_m, temperature_k, pressure_hpa, density in DOC_7488:
        altitude_ft, source = height_m / FT, "ICAO Doc 7488/3, table 1 (from memory)"
        rows = (
            (
                "temperature",
                atmosphere.standard_temperature_degc(altitude_ft) + 273.15,
                temperature_k,
                0.001,
                "K",
            ),
            ("pressure", atmosphere.standard_pressure_hpa(altitude_ft), pressure_hpa, 0.001, "hPa"),
            ("density", standard_density_kg_m3(altitude_ft), density, 0.00001, "kg/m3"),
        )
        for what, got, want, tolerance, unit in rows:
            yield Check(f"standard {what}", f"{height_m} m", got, want, tolerance, unit, source)


def standard_density_kg_m3(altitude_ft: float) -> float:
    """Density of the standard day: that of its pressure and its temperature."""
    pressure_hpa = atmosphere.standard_pressure_hpa(altitude_ft)
    return atmosphere.density_kg_m3(pressure_hpa, atmosphere.standard_temperature_degc(altitude_ft))


def ambiance() -> Iterator[Check]:
    """Standard atmosphere beside a library, about every 500 ft, also below sea level."""
    for altitude_ft in range(-15000, 100001, 2500):
        height_m = altitude_ft * FT
        # The library takes geometric heights; its own conversion leads to ours.  It rounds the pressure at each layer's base.
        air = Atmosphere(Atmosphere.geop2geom_height(height_m))
        got = atmosphere.standard_pressure_hpa(altitude_ft)
        source = "ambiance 1.3.1 (ICAO 1993)"
        at = f"{altitude_ft} ft"
        yield Check("pressure", at, got, float(air.pressure[0]) / 100.0, 1e-5 * got, "hPa", source)
        kelvin = atmosphere.standard_temperature_degc(altitude_ft) + 273.15
        yield Check("temperature", at, kelvin, float(air.temperature[0]), 1e-6, "K", source)
        density = standard_density_kg_m3(altitude_ft)
        yield Check("density", at, density, float(air.density[0]), 1e-5 * density, "kg/m3", source)
        sound = atmosphere.speed_of_sound_kt(kelvin - 273.15) * 1852 / 3600
        yield Check("speed of sound", at, sound, float(air.speed_of_sound[0]), 1e-5, "m/s", source)
        back = atmosphere.pressure_altitude_ft(float(air.pressure[0]) / 100.0)
        yield Check("pressure altitude", at, back, altitude_ft, 0.1, "ft", source)


def places_apart() -> Iterator[Check]:
    """Distances beside a library, from a taxiway beside a runway to half the earth; its radius is rounded."""
    source = "openap 2.6.2, aero module"
    here = (46.81775, -21.45432)
    for name, there in {
        "200 m": (46.81667, -21.45642),
        "a runway's length": (46.8003, -21.4377),
        "a sector": (43.1820, -20.3950),
        "over the date line": (-12.5, 178.25),
    }.items():
        want = float(np.asarray(aero.distance(*here, *there))) / 1852
        yield Check(
            "distance", name, great_circle.distance_nm(*here, *there), want, 2e-5 * want, "NM", source
        )
    for name, course_deg, there in (
        ("a taxiway beside it", 143.0, (46.81667, -21.45642)),
        ("its other end", 143.0, (46.8003, -21.4377)),
        ("10 NM before it", 143.0, (46.9506, -21.6004)),
        ("beside the final", 268.0, (46.80, -21.20)),
    ):
        far = float(np.asarray(aero.distance(*here, *there))) / 1852
        turn = np.radians(float(np.asarray(aero.bearing(*here, *there))) - course_deg)
        place = (*there, *here, course_deg)
        along, beside = great_circle.along_line_nm(*place), great_circle.beside_line_nm(*place)
        yield Check("distance", f"along: {name}", along, far * float(np.cos(turn)), 3e-3 * far, "NM", source)
        yield Check(
            "distance", f"beside: {name}", beside, far * float(np.sin(turn)), 3e-3 * far, "NM", source
        )


def openap() -> Iterator[Check]:
    """Airspeeds beside a library; it rounds its constants (T0, p0, g, R), hence the tolerances."""
    kt, source = 1852 / 3600, "openap 2.6.2, aero module"
    for cas_kt, altitude_ft in product((60, 120, 200, 250, 300, 340), range(0, 36001, 4000)):
        height_m, at = altitude_ft * FT, f"{cas_kt} kt, {altitude_ft} ft"
        outside = atmosphere.standard_temperature_degc(altitude_ft)
        mach = airspeeds.mach_from_cas(cas_kt, altitude_ft)
        tas_kt = airspeeds.tas_from_cas_kt(cas_kt, altitude_ft, outside)
        want = float(np.asarray(aero.cas2mach(cas_kt * kt, height_m)))
        yield Check("Mach from CAS", at, mach, want, 2e-4, "1", source)
        want = float(np.asarray(aero.cas2tas(cas_kt * kt, height_m))) / kt
        yield Check("TAS from CAS", at, tas_kt, want, 0.1, "kt", source)
        want = float(np.asarray(aero.mach2cas(mach, height_m))) / kt
        yield Check(
            "CAS from Mach", at, airspeeds.cas_from_mach_kt(mach, altitude_ft), want, 0.1, "kt", source
        )
        want = float(np.asarray(aero.tas2cas(tas_kt * kt, height_m))) / kt
        yield Check(
            "CAS from TAS",
            at,
            airspeeds.cas_from_tas_kt(tas_kt, altitude_ft, outside),
            want,
            0.1,
            "kt",
            source,
        )
        want = float(np.asarray(aero.tas2mach(tas_kt * kt, height_m)))
        yield Check("Mach from TAS", at, airspeeds.mach_from_tas(tas_kt, outside), want, 2e-4, "1", source)
    for cas_kt, mach in ((280, 0.78), (290, 0.80), (300, 0.78), (320, 0.85)):
        got = airspeeds.crossover_altitude_ft(cas_kt, mach)
        want = float(np.asarray(aero.crossover_alt(cas_kt * kt, mach))) / FT
        yield Check("crossover altitude", f"{cas_kt} kt, Mach {mach}", got, want, 10.0, "ft", source)


def wmm() -> Iterator[Check]:
    """Magnetic variation beside the model's published test values."""
    for year, height_km, latitude, longitude, want in WMM_2020:
        got = magnetism.variation_deg(latitude, longitude, height_km * 1000 / FT, year)
        at = f"{latitude} N {longitude} E, {height_km} km, {year}"
        yield Check("magnetic variation", at, got, want, 0.006, "deg", "NOAA NCEI, WMM2020 Test Values")


def handbook_air() -> Iterator[Check]:
    """Pressure and density altitude of the handbook's examples."""
    source = "FAA-H-8083-25, chapter 11, example (from memory)"
    pressure_ft = atmosphere.pressure_altitude_at_ft(5883, 30.10 * IN_HG)
    yield Check("pressure altitude", "5 883 ft, 30.10 inHg", pressure_ft, 5718, 10, "ft", source)
    density_ft = atmosphere.density_altitude_ft(pressure_ft, (70 - 32) / 1.8)
    # The example reads a chart, in steps of about a hundred feet.
    yield Check("density altitude", "and 70 degF", density_ft, 7700, 50, "ft", source)
    for degc, want in ((0, 60), (-10, 100), (-20, 140), (-30, 190), (-50, 300)):
        got = atmosphere.cold_temperature_error_ft(1000, 0, degc)
        # The table rounds up to the next ten feet or so.
        source = "ICAO Doc 8168, table of cold temperature corrections (from memory)"
        yield Check("cold error", f"1 000 ft, {degc} degC", got, want, 10, "ft", source)


def handbook_wind() -> Iterator[Check]:
    """Crosswind chart and wind triangle of the handbook."""
    chart = "FAA-H-8083-25, chapter 11, crosswind chart, read to the knot (from memory)"
    yield Check("headwind", "runway 17, 140/25", wind.headwind_kt(140, 25, 170), 22, 0.5, "kt", chart)
    yield Check("crosswind", "runway 17, 140/25", wind.crosswind_kt(140, 25, 170), 13, 0.51, "kt", chart)
    report = "NTSB/AAR-01/02, last tower wind; computed"
    yield Check("crosswind", "runway 04, 330/28", wind.crosswind_kt(330, 28, 40), 26.3, 0.05, "kt", report)
    triangle = "FAA-H-8083-25, chapter 16, example (from memory)"
    yield Check("drift", "031, 115 kt, 360/10", wind.drift_deg(31, 115, 0, 10), -3, 0.5, "deg", triangle)
    speed = wind.ground_speed_kt(31, 115, 0, 10)
    yield Check("ground speed", "031, 115 kt, 360/10", speed, 106, 0.5, "kt", triangle)
    yield Check("magnetic", "028 true, 7 E", magnetism.magnetic_deg(28, 7), 21, 1e-9, "deg", triangle)


def handbook_mass() -> Iterator[Check]:
    """A weight and balance example of the handbook, in inches."""
    one = "FAA-H-8083-1B, chapter 3 (from memory)"
    yield Check(
        "% MAC", "CG 161, LEMAC 144, MAC 62 in", mass.cg_on_mac_pct(161, 144, 62), 27.4, 0.05, "%", one
    )


def handbook_speeds() -> Iterator[Check]:
    """Stall speed with bank and mass, an acceleration and rolls."""
    five = "FAA-H-8083-25, chapter 5, load factor chart (from memory)"
    for bank, factor in ((30, 1.07), (45, 1.19), (60, 1.41), (75, 1.97)):
        got = speeds.stall_in_bank_kt(100, bank) / 100
        yield Check("stall in bank", f"{bank} deg", got, factor, 0.006, "1", five)
    yield Check("load factor", "60 deg", speeds.load_factor(60), 2.0, 1e-9, "gn", five)
    report = "TSB A04H0004: 240 t for 353 t; rotation about 30 kt slow (from memory)"
    slow = 162 - speeds.speed_at_mass_kt(162, 353000, 240000)
    yield Check("speed at mass", "162 kt, 353 t to 240 t", slow, 30, 2.5, "kt", report)
    eleven = "FAA-H-8083-25, chapter 11: 10 % heavier, 21 % longer (from memory)"
    yield Check("roll at mass", "110 %", takeoff.roll_at_mass_m(1000, 100, 110), 1210, 0.01, "m", eleven)
    wind_rule = "FAA-H-8083-25, chapter 11: tailwind of 10 % of lift-off speed, 21 % longer (from memory)"
    yield Check("roll in wind", "-10 %", takeoff.roll_in_wind_m(1000, 100, -10), 1210, 0.01, "m", wind_rule)
    drag = takeoff.rolling_acceleration_m_s2(0, 50000, 100, 8, friction=0.0)
    air = -0.5 * aero.rho0 * (100 * aero.kts) ** 2 * 8 / 50000
    yield Check(
        "acceleration", "drag alone, 100 kt", drag, air, 1e-4, "m/s2", "openap's air density and knot"
    )


def handbook_fuel() -> Iterator[Check]:
    """Sums of the inquiry of 1983, reserves, and rules of thumb for the descent."""
    inquiry = "Board of inquiry, accident of 23 July 1983, the refuelling sums"
    yield Check("fuel mass", "7 682 l at 0.803", fuel.mass_kg(7682, 0.803), 6169, 0.5, "kg", inquiry)
    needed = fuel.volume_l(22300 - fuel.mass_kg(7682, 0.803), 0.803)
    yield Check("fuel volume", "to add for 22 300 kg", needed, 20088, 1.5, "l", inquiry)
    factor = entry_errors.DENSITY_KG_L * entry_errors.LB_PER_KG
    yield Check("unit slip", "0.803 kg/l in lb/l", factor, 1.77, 0.001, "lb/l", inquiry)
    annex = "ICAO Annex 6 Part I, 4.3.6.3"
    yield Check(
        "contingency", "5 000 kg, 2 100 kg/h", fuel.minimum_contingency_kg(5000, 2100), 250, 1e-9, "kg", annex
    )
    yield Check(
        "contingency", "1 000 kg, 2 400 kg/h", fuel.minimum_contingency_kg(1000, 2400), 200, 1e-9, "kg", annex
    )
    yield Check("final reserve", "2 100 kg/h", fuel.final_reserve_kg(2100), 1050, 1e-9, "kg", annex)
    yield Check("45 min", "2 400 kg/h", fuel.domestic_reserve_kg(2400), 1800, 1e-9, "kg", "14 CFR 121.639(c)")
    left = fuel.planned_on_board_kg(22300, 200, 15000, 4000)
    yield Check("fuel by the plan", "4 000 kg to go", left, 11100, 1e-9, "kg", f"{annex}, definitions")
    rule = "14 CFR 121.195(b) and (d)"
    yield Check(
        "landing runway",
        "1 200 m, dry",
        landing.required_landing_distance_m(1200, "dry"),
        2000,
        1e-9,
        "m",
        rule,
    )
    yield Check(
        "landing runway",
        "1 200 m, wet",
        landing.required_landing_distance_m(1200, "wet"),
        2300,
        1e-9,
        "m",
        rule,
    )
    yield Check("30 min", "20 kg/h", fuel.vfr_reserve_kg(20), 10, 1e-9, "kg", "14 CFR 91.151(a)(1)")
    thumb = "three miles a thousand feet, five times the ground speed (common practice)"
    yield Check("descent", "10 000 ft", descent.distance_to_descend_nm(10000), 30, 1.5, "NM", thumb)
    yield Check("descent rate", "140 kt", descent.descent_rate_ft_min(140), 700, 50, "ft/min", thumb)


def rules_of_speed() -> Iterator[Check]:
    """Minimum speeds by the printed factors of the rules, and a runway's designator."""
    rule, approach = (
        "14 CFR 25.107(b), (e), printed factors",
        "14 CFR 25.125(b)(2), printed factor (from memory)",
    )
    yield Check(
        "minimum V2", "VSR 120 kt, VMC 104 kt", speeds.minimum_v2_kt(120, 104), 135.6, 1e-9, "kt", rule
    )
    yield Check("minimum V2", "VSR 95 kt, VMC 104 kt", speeds.minimum_v2_kt(95, 104), 114.4, 1e-9, "kt", rule)
    yield Check(
        "minimum VR", "V1 100 kt, VMC 104 kt", speeds.minimum_vr_kt(100, 104), 109.2, 1e-9, "kt", rule
    )
    yield Check("minimum VREF", "VSR0 100 kt", speeds.minimum_vref_kt(100), 123.0, 1e-9, "kt", approach)
    name = "ICAO Annex 14 Vol. I, 5.2.2 (from memory)"
    yield Check("runway heading", "14L", magnetism.runway_heading_deg("14L"), 140.0, 1e-9, "deg", name)


def sums() -> Iterator[Check]:
    """Fuel, time and rate by their definitions, with numbers that can be added by hand."""
    annex, journal = "ICAO Annex 6 Part I, 4.3.6.3", "14 CFR 234.4: out, off, on, in (from memory)"
    parts = fuel.fuel_sum_kg(200, 1900, 190, 1450, 1150, 3310)
    yield Check("fuel sum", "six parts", parts, 8200, 1e-9, "kg", annex)
    yield Check(
        "least fuel", "2 400 kg/h", fuel.minimum_block_kg(200, 1900, 2400, 1450), 4950, 1e-9, "kg", annex
    )
    at_end = fuel.at_destination_kg(6700, 520)
    yield Check(
        "fuel at destination", "520 kg to go", at_end, 6180, 1e-9, "kg", "ICAO Annex 6 Part I, 4.3.7.2"
    )
    mass_law = "conservation of mass"
    yield Check("leak", "640 kg gone", fuel.lost_kg(8200, 1400, 6160), 640, 1e-9, "kg", mass_law)
    yield Check(
        "imbalance", "3 100 and 2 400 kg", fuel.imbalance_kg(3100, 2400), 700, 1e-9, "kg", "definition"
    )
    yield Check(
        "endurance", "2 400 kg at 2 400 kg/h", fuel.endurance_min(2400, 2400), 60, 1e-9, "min", "definition"
    )
    rate = descent.required_rate_ft_min(30000, 100, 400)
    yield Check(
        "rate of descent needed", "30 000 ft in 15 min", rate, 2000, 1e-9, "ft/min", "definition of speed"
    )
    span = times.duration_of_day_s(23 * 3600 + 50 * 60, 26 * 60)
    yield Check("block time", "23:50 to 00:26", span / 60, 36, 1e-9, "min", journal)


CHECKS = [
    *doc_7488(),
    *ambiance(),
    *places_apart(),
    *openap(),
    *wmm(),
    *handbook_air(),
    *handbook_wind(),
    *handbook_mass(),
    *handbook_speeds(),
    *handbook_fuel(),
    *rules_of_speed(),
    *sums(),
]
