"""Tests of the conversion from raw values to a signal's values."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.decoders.base import RawValue
from adapters.mapping.convert import make_converter, make_validity_check
from adapters.mapping.map_plan import FieldMapping, FieldSource, Threshold, ValidityRule, ValueRange
from rules.signals.model import Signal, SignalKind, Value
from rules.signals.units import UnitFault

BRAKE = Signal("brake", SignalKind.SWITCH, 32, "brake", "", words=("released", "set"))
LEVER = Signal("lever", SignalKind.CHOICE, 27, "lever", "", words=("off", "reject", "1", "2"))
SPEED = Signal("speed", SignalKind.QUANTITY, 34, "speed", "", unit="kt", low=0.0, high=500.0)
OIL = Signal("oil", SignalKind.QUANTITY, 79, "oil", "", unit="degC", low=-100.0, high=300.0)
HEADING = Signal("heading", SignalKind.ANGLE, 34, "heading", "", unit="deg", low=0.0, high=360.0)
SQUAWK = Signal("squawk", SignalKind.COUNT, 34, "squawk", "", low=0.0, high=7777.0)
RUNWAY = Signal("runway", SignalKind.TEXT, 34, "runway", "", max_length=4)
X = FieldSource("x")


@pytest.mark.parametrize(
    ("signal", "raw", "value"),
    [
        (BRAKE, 0, "released"), (BRAKE, 1.0, "set"), (BRAKE, True, "set"), (BRAKE, "SET", "set"),
        (BRAKE, 2, None), (BRAKE, 0.5, None), (BRAKE, "on", None), (BRAKE, None, None),
        (LEVER, "REJECT", "reject"), (LEVER, 1, "1"), (LEVER, 2.0, "2"), (LEVER, 0, None), (LEVER, True, None),
        (SPEED, 145.2, 145.2), (SPEED, 145, 145.0), (SPEED, True, None), (SPEED, "145", None), (SPEED, None, None),
        (HEADING, 360.0, 0.0), (HEADING, -90.0, 270.0), (HEADING, -1e-18, 0.0), (HEADING, 1e6, None),
        (SQUAWK, 2000.0, 2000.0), (SQUAWK, 2000.5, None), (SQUAWK, 2000.0000001, 2000.0), (SQUAWK, "2000", None),
        (RUNWAY, "14L", "14L"), (RUNWAY, 14.0, "14"), (RUNWAY, 14.5, None), (RUNWAY, True, None),
    ],
)  # fmt: skip
def test_each_kind_accepts_its_values(signal: Signal, raw: RawValue, value: Value | None) -> None:
    """A raw value of the signal's kind becomes its value; any other becomes None."""
    assert make_converter(signal, FieldMapping(signal.name, X))(raw) == value


def test_scale_and_offset_apply_before_the_unit() -> None:
    """75 m/s is 145.8 kt; scale and offset apply to the raw value, before the unit."""
    assert make_converter(SPEED, FieldMapping("speed", X, unit="m/s"))(75.0) == pytest.approx(
        145.788, abs=1e-3
    )
    assert make_converter(SPEED, FieldMapping("speed", X, scale=0.5, offset=10.0, unit="m/s"))(
        130
    ) == pytest.approx(145.788, abs=1e-3)
    assert make_converter(HEADING, FieldMapping("heading", X, unit="rad"))(-math.pi / 2) == pytest.approx(
        270.0
    )


@pytest.mark.parametrize(("raw", "degrees_c"), [(0.0, 0.0), (90.0, 100.0), (-36.0, -40.0)])
def test_an_offset_of_the_map_comes_before_that_of_the_unit(raw: float, degrees_c: float) -> None:
    """Two degrees F for each raw step above 32 degF: 0 is 0 degC, 90 is 212 degF, -36 is -40 on both scales."""
    bound = FieldMapping("oil", X, scale=2.0, offset=32.0, unit="degF")
    assert make_converter(OIL, bound)(raw) == pytest.approx(degrees_c, abs=1e-9)


def test_a_unit_of_another_quantity_is_a_fault() -> None:
    """Kilograms do not convert to knots."""
    with pytest.raises(UnitFault, match="does not convert"):
        make_converter(SPEED, FieldMapping("speed", X, unit="kg"))


def test_words_and_ranges_give_values() -> None:
    """Raw words and numbers are looked up, numbers by value first and then by range; others become None."""
    bound = FieldMapping(
        "lever",
        X,
        words=((0.0, "off"), ("0", "off"), ("TO", "reject")),
        ranges=(ValueRange(0.9, 1.1, "1"), ValueRange(1.5, math.inf, "2")),
    )
    read = make_converter(LEVER, bound)
    assert [read(raw) for raw in (0, 0.0, "0", "to", 1.0, 1.05, 99.0, 1.3, "x", None)] == [
        "off", "off", "off", "reject", "1", "1", "2", None, None, None,
    ]  # fmt: skip


def test_a_threshold_turns_a_number_into_a_word() -> None:
    """From the threshold on the value is one word, below it the other; without a number it is None."""
    read = make_converter(BRAKE, FieldMapping("brake", X, threshold=Threshold(0.5, "set", "released")))
    assert [read(raw) for raw in (0.5, 0.4999, 1, None, "1", True)] == [
        "set",
        "released",
        "set",
        None,
        None,
        None,
    ]


def test_inversion_swaps_the_two_words() -> None:
    """An inverted switch has the other word; an invalid value stays None."""
    read = make_converter(BRAKE, FieldMapping("brake", X, invert=True))
    assert [read(raw) for raw in (0, 1, "set", None, 3)] == ["set", "released", "released", None, None]


@given(st.integers(0, 2**53), st.integers(0, 63))
def test_one_bit_of_a_whole_number_is_read(word: int, bit: int) -> None:
    """A bit of a whole number reads as 0 or 1, for an integer and for a float."""
    read = make_converter(BRAKE, FieldMapping("brake", FieldSource("x", bit=bit)))
    want = "set" if word >> bit & 1 else "released"
    assert read(word) == read(float(word)) == want


@pytest.mark.parametrize("raw", [-1, 1.5, "1", None, True, 2**70])
def test_a_bit_needs_a_whole_number_from_zero(raw: RawValue) -> None:
    """Only a whole number from 0 has bits."""
    assert make_converter(BRAKE, FieldMapping("brake", FieldSource("x", bit=0)))(raw) is None


def test_another_field_decides_the_validity() -> None:
    """A value is valid where the other field has an accepted value, or its bit is set."""
    is_normal = make_validity_check(ValidityRule(X, frozenset({3.0, "A"})))
    assert [is_normal(raw) for raw in (3, 3.0, "A", 2, "V", None)] == [True, True, True, False, False, False]
    bit = make_validity_check(ValidityRule(FieldSource("x", bit=2)))
    assert [bit(raw) for raw in (4, 3, None, "4")] == [True, False, False, False]
    flag = make_validity_check(ValidityRule(X, frozenset({1.0}), invert=True))
    assert [flag(raw) for raw in (0, 1, None)] == [True, False, False]


@given(st.floats(-360, 720))
def test_angles_stay_on_the_circle(angle: float) -> None:
    """Every accepted angle is in [0, 360) and has the same direction."""
    value = make_converter(HEADING, FieldMapping("heading", X))(angle)
    assert isinstance(value, float)
    assert 0.0 <= value < 360.0
    assert math.cos(math.radians(value)) == pytest.approx(math.cos(math.radians(angle)), abs=1e-9)
