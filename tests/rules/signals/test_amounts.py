"""Amounts as people write them are parsed, and nothing else is."""

from __future__ import annotations

import pytest

from rules.signals.amounts import Amount, comma_hint, parse_amount, parse_range


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("3 s", 3.0, "s"),
        ("128kt", 128.0, "kt"),
        ("8 200 kg", 8200.0, "kg"),
        ("1 234 567.5 ft/min", 1234567.5, "ft/min"),
        ("8\u202f200\u00a0kg", 8200.0, "kg"),
        ("-1.5 degC", -1.5, "degC"),
        ("+5 deg", 5.0, "deg"),
        ("24.1 %", 24.1, "%"),
        ("24.1%", 24.1, "%"),
        ("0.78", 0.78, ""),
        (" 5 deg ", 5.0, "deg"),
        ("2 1/s", 2.0, "1/s"),
    ],
)
def test_reads(text: str, value: float, unit: str) -> None:
    """A number, possibly with grouped thousands, and a unit, possibly without a space."""
    assert parse_amount(text) == Amount(value, unit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "kg",
        "1,5 kg",
        "8,200 kg",
        "1e3 kg",
        "nan kg",
        "inf",
        "1_000 kg",
        "٣ kg",
        "5 kg kg",
        "82 00 kg",
        "5 -kg",
    ],
)
def test_refuses(text: str) -> None:
    """A decimal comma, an exponent, other digits or a space in the wrong place is no amount."""
    assert parse_amount(text) is None


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("0..500", (0.0, 500.0)),
        ("-2000..60000", (-2000.0, 60000.0)),
        ("0.6..1", (0.6, 1.0)),
        ("-5..-1", (-5.0, -1.0)),
        ("1 000..2 000", (1000.0, 2000.0)),
    ],
)
def test_reads_ranges(text: str, ends: tuple[float, float]) -> None:
    """Both ends of a range, in the order written."""
    assert parse_range(text) == ends


@pytest.mark.parametrize("text", ["", "5", "0...5", "0-5", "0..", "..5", "0..5..9", "0..5 kt", "a..b"])
def test_refuses_ranges(text: str) -> None:
    """One number, three, or another sign between is no range."""
    assert parse_range(text) is None


def test_comma_hint() -> None:
    """Only a comma inside a number gives the hint."""
    assert "8 200 kg" in comma_hint("8,200 kg")
    assert comma_hint("kg, lb") == ""
