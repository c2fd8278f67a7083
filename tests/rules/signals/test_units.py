"""Units convert by their published definitions, and a wrong one is reported with a suggestion."""

from __future__ import annotations

import pytest

from rules.signals.units import (
    UnitFault,
    compatible,
    convert,
    is_known,
    linear_conversion,
    to_seconds,
    unit_hint,
)

ICAO = "ICAO Annex 5, Chapter 1, definitions of foot, knot and nautical mile (figures from memory)"
SI = "BIPM, The International System of Units, 9th edition (figures from memory)"
NIST = "NIST Special Publication 811 (2008), Appendix B (figures from memory)"

PUBLISHED = [
    # value, unit, in this unit, source, relative tolerance (half of the last published digit)
    (1.0, "kt", 1852 / 3600, "m/s", ICAO, 1e-12),
    (1.0, "NM", 1852.0, "m", ICAO, 1e-12),
    (1.0, "ft", 0.3048, "m", ICAO, 1e-12),
    (1.0, "lb", 0.45359237, "kg", NIST, 1e-12),
    (1.0, "inHg", 33.86389, "hPa", NIST, 2e-7),
    (1.0, "psi", 68.94757, "hPa", NIST, 1e-7),
    (1.0, "gal", 3.785412, "l", NIST, 2e-7),
    (1.0, "bar", 1000.0, "hPa", SI, 1e-12),
    (1.0, "l", 0.001, "m^3", SI, 1e-12),
    (1.0, "h", 3600.0, "s", SI, 1e-12),
    (1.0, "min", 60.0, "s", SI, 1e-12),
    (180.0, "deg", 3.141592653589793, "rad", SI, 1e-12),
    (0.0, "degC", 273.15, "K", SI, 1e-12),
    (1.0, "gn", 9.80665, "m/s^2", "3rd CGPM (1901), in BIPM 9th edition", 1e-12),
    (32.0, "degF", 0.0, "degC", NIST, 1e-12),
    (212.0, "degF", 100.0, "degC", NIST, 1e-12),
    (29.92, "inHg", 1013.21, "hPa", "common practice: 1013.25 hPa is said to be 29.92 inHg", 5e-5),
    (100.0, "ft/min", 0.508, "m/s", ICAO, 1e-12),
    (25.0, "%", 0.25, "1", SI, 1e-12),
    (1.0, "rpm", 6.0, "deg/s", "a turn is 360 deg, a minute 60 s", 1e-12),
]


@pytest.mark.parametrize(("value", "unit", "wanted", "to", "source", "tolerance"), PUBLISHED)
def test_agrees_with_the_published_definition(
    value: float, unit: str, wanted: float, to: str, source: str, tolerance: float
) -> None:
    """A conversion gives the published value, to its last digit."""
    assert convert(value, unit, to) == pytest.approx(wanted, rel=tolerance, abs=1e-9), source


@pytest.mark.parametrize(("value", "unit", "wanted", "to", "source", "tolerance"), PUBLISHED)
def test_converts_back(
    value: float, unit: str, wanted: float, to: str, source: str, tolerance: float
) -> None:
    """Converting back gives the same value."""
    assert convert(convert(value, unit, to), to, unit) == pytest.approx(value, rel=1e-12, abs=1e-9), (
        wanted,
        source,
        tolerance,
    )


def test_kt_is_a_speed() -> None:
    """`kt` is a speed, never a kilotonne."""
    assert compatible("kt", "m/s")
    assert not compatible("kt", "kg")


def test_difference_of_temperature_has_no_zero_point() -> None:
    """A tolerance of 5 degC is 9 degF wide, where 5 degC itself is 41 degF."""
    assert linear_conversion("degC", "degF", delta=True) == (1.8, 0.0)
    assert convert(5, "degC", "degF", delta=True) == 9.0
    assert convert(5, "degC", "degF") == 41.0


def test_rate_of_temperature_is_a_difference() -> None:
    """A rate has no zero point either."""
    assert linear_conversion("degC/min", "degF/s") == (0.03, 0.0)


@pytest.mark.parametrize(
    ("unit", "other"),
    [
        ("deg", "%"),
        ("deg", "1"),
        ("rpm", "Hz"),
        ("kg", "lb/h"),
        ("psi", "psi/s"),
        ("degC", "hPa"),
        ("%", "kt"),
    ],
)
def test_different_things_do_not_convert(unit: str, other: str) -> None:
    """Units of different quantities are refused, an angle and a plain number among them."""
    assert not compatible(unit, other)
    with pytest.raises(UnitFault, match="does not convert"):
        convert(1, unit, other)


@pytest.mark.parametrize(
    ("wrong", "meant"),
    [
        ("fpm", "ft/min"),
        ("nm", "NM"),
        ("mb", "hPa"),
        ("C", "degC"),
        ("F", "degF"),
        ("G", "gn"),
        ("PSI", "psi"),
        ("hpa", "hPa"),
        ("psii", "psi"),
        ("degg", "deg"),
        ("knt", "kt"),
        ("gph", "gal/h"),
    ],
)
def test_an_unknown_unit_is_refused_with_a_suggestion(wrong: str, meant: str) -> None:
    """A misspelt or ambiguous unit is refused with a suggestion."""
    assert not is_known(wrong)
    assert unit_hint(wrong) == f"did you mean {meant}?"
    with pytest.raises(UnitFault, match="did you mean") as caught:
        linear_conversion(wrong, "m")
    assert meant in caught.value.hint


@pytest.mark.parametrize(
    "text",
    [
        "9**9**9**9",
        "kg**99999999",
        "__import__('os')",
        "m m",
        "kg/",
        "/s",
        "5",
        "²",
        "x" * 5000,
        "kt\n",
        "nan",
    ],
)
def test_arithmetic_is_not_a_unit(text: str) -> None:
    """Untrusted text is never evaluated as arithmetic."""
    assert not is_known(text)
    with pytest.raises(UnitFault):
        convert(1, text, "m")


def test_logarithmic_unit_is_refused() -> None:
    """A logarithmic unit is refused with its reason."""
    with pytest.raises(UnitFault, match="logarithmic"):
        linear_conversion("dB", "1")


@pytest.mark.parametrize("unit", ["", "1", "%"])
def test_plain_numbers_are_units(unit: str) -> None:
    """The plain number and the per cent convert to each other."""
    assert is_known(unit)
    assert compatible(unit, "1")


@pytest.mark.parametrize(
    ("value", "unit", "wanted"), [(2, "s", 2), (1.5, "min", 90), (2, "h", 7200), (500, "ms", 0.5)]
)
def test_seconds(value: float, unit: str, wanted: float) -> None:
    """A time converts to seconds."""
    assert to_seconds(value, unit) == wanted


def test_seconds_of_a_length() -> None:
    """A length is no time."""
    with pytest.raises(UnitFault, match="'ft' does not convert to 's'"):
        to_seconds(3, "ft")
