"""Numbers are formatted as a pilot reads them."""

from __future__ import annotations

import math

import pytest

from rules.signals.number_format import format_distinct, format_value


@pytest.mark.parametrize(
    ("value", "unit", "wanted"),
    [
        (1240, "psi", "1 240 psi"),
        (12345678.4, "kg", "12 345 678 kg"),
        (-1500, "ft/min", "-1 500 ft/min"),
        (0.8, "s", "0.8 s"),
        (25.0, "%", "25 %"),
        (25.04, "%", "25 %"),
        (99.94, "kt", "99.9 kt"),
        (99.96, "kt", "100 kt"),
        (0.03125, "m", "0.0312 m"),
        (0.7849, "1", "0.785"),
        (-0.0000001, "deg", "0 deg"),
        (0.0, "kg", "0 kg"),
        (118.305, "MHz", "118.305 MHz"),
        (29.9212, "inHg", "29.92 inHg"),
        (1013.25, "hPa", "1 013 hPa"),
        (4217, "", "4217"),
        (math.nan, "kt", "not a number"),
        (math.inf, "kt", "not a number"),
    ],
)
def test_format_value(value: float, unit: str, wanted: str) -> None:
    """Thousands are grouped, decimals fit the size, and trailing zeros are left out."""
    assert format_value(value, unit) == wanted


@pytest.mark.parametrize(
    ("value", "other", "wanted"),
    [
        (127.6, 128.0, ("127.6 kt", "128 kt")),
        (7400.0, 8200.0, ("7 400 kt", "8 200 kt")),
        (128.0, 128.0, ("128 kt", "128 kt")),
        (100.001, 100.002, ("100.001 kt", "100.002 kt")),
        (100.0, 100.0 + 1e-9, ("100 kt", "100 kt")),
    ],
)
def test_format_distinct(value: float, other: float, wanted: tuple[str, str]) -> None:
    """Two different values look different, as long as the difference is significant."""
    assert format_distinct(value, other, "kt") == wanted
