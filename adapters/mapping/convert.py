"""Makes the functions that convert raw values to a signal's values.

    quantity   a number, times scale plus offset, from the field's unit into the signal's
    angle      the same, wrapped into 0 up to 360 deg
    count      the same, a whole number within a millionth
    switch     one of its words (any case), or 0 / 1 / false / true for its first / second word
    choice     one of its words (any case); a number only where it is written like one of the words
    text       text; a whole number is written as digits

A truth value or a number in quotes is not a number: both are refused, since the sender must have meant another field.

Takes: a signal and its field mapping.  Gives: a function from a raw value to the value, None where it is invalid.
"""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite
from typing import TypeAlias

from adapters.decoders.base import RawValue
from adapters.mapping.map_plan import FieldMapping, FieldSource, ValidityRule
from rules.signals.model import Signal, SignalKind, Value
from rules.signals.units import linear_conversion

Converter: TypeAlias = Callable[[RawValue], Value | None]
ValidityCheck: TypeAlias = Callable[[RawValue], bool]

_WHOLE_TOLERANCE = 1e-6
_MAX_BIT_FIELD = 2**64


def make_converter(signal: Signal, bound: FieldMapping) -> Converter:
    """Make the function that converts a field's raw value to the signal's value.

    Raises:
        UnitFault: The field's unit does not convert to the signal's.
    """
    read = _for_words(bound) if bound.words or bound.ranges else _threshold(bound) or _for_kind(signal, bound)
    if bound.invert:
        read = _inverted(signal, read)
    return _bit(bound.source, read) if bound.source.bit is not None else read


def make_validity_check(rule: ValidityRule) -> ValidityCheck:
    """Make the function that decides from the validity field if a value may be used."""
    accepted, invert = rule.accepted, rule.invert

    def check(raw: RawValue) -> bool:
        return raw is not None and ((float(raw) if isinstance(raw, int) else raw) in accepted) is not invert

    if rule.source.bit is None:
        return check
    bit_of = _bit(rule.source, lambda raw: 1.0 if raw else 0.0)

    def check_bit(raw: RawValue) -> bool:
        bit = bit_of(raw)
        return bit is not None and (bit in accepted) is not invert

    return check_bit


def _for_kind(signal: Signal, bound: FieldMapping) -> Converter:
    """Choose the converter by the kind of the signal."""
    if signal.kind in (SignalKind.QUANTITY, SignalKind.ANGLE, SignalKind.COUNT):
        factor, offset = _linear_factors(signal, bound)
        if signal.kind is SignalKind.ANGLE:
            return _angle(factor, offset)
        return _count(factor, offset) if signal.kind is SignalKind.COUNT else _number(factor, offset)
    if signal.kind is SignalKind.SWITCH:
        return _switch(signal.words)
    return _text() if signal.kind is SignalKind.TEXT else _choice(signal.words)


def _linear_factors(signal: Signal, bound: FieldMapping) -> tuple[float, float]:
    """Combine scale, offset and unit to one factor and offset into the signal's unit."""
    factor, offset = linear_conversion(bound.unit, signal.unit) if bound.unit else (1.0, 0.0)
    return bound.scale * factor, bound.offset * factor + offset


def _as_float(raw: RawValue) -> float | None:
    """Give a raw number as a float; None for everything else."""
    if type(raw) is float:
        return raw
    return float(raw) if type(raw) is int else None


def _number(factor: float, offset: float) -> Converter:
    """Make the converter of a quantity."""
    if (factor, offset) == (1.0, 0.0):
        return _as_float

    def read(raw: RawValue) -> Value | None:
        number = _as_float(raw)
        if number is None:
            return None
        value = number * factor + offset
        return value if isfinite(value) else None

    return read


def _angle(factor: float, offset: float) -> Converter:
    """Make the converter of an angle, which wraps -180..180 and 0..360 into [0, 360)."""

    def read(raw: RawValue) -> Value | None:
        value = _as_float(raw)
        if value is None:
            return None
        angle = value * factor + offset
        if not -360.0 <= angle <= 720.0:
            return None
        # For a tiny negative angle the modulo rounds to 360.0 itself.
        wrapped = angle % 360.0
        return 0.0 if wrapped >= 360.0 else wrapped

    return read


def _count(factor: float, offset: float) -> Converter:
    """Make the converter of a count."""

    def read(raw: RawValue) -> Value | None:
        value = _as_float(raw)
        if value is None:
            return None
        whole = value * factor + offset
        return float(round(whole)) if abs(whole - round(whole)) <= _WHOLE_TOLERANCE else None

    return read


def _switch(words: tuple[str, ...]) -> Converter:
    """Make the converter of a switch."""
    table: dict[RawValue, str] = {0.0: words[0], 1.0: words[1]}
    known = {word.casefold(): word for word in words}

    def read(raw: RawValue) -> Value | None:
        return known.get(raw.casefold()) if isinstance(raw, str) else table.get(raw)

    return read


def _choice(words: tuple[str, ...]) -> Converter:
    """Make the converter of a choice."""
    known = {word.casefold(): word for word in words}

    def read(raw: RawValue) -> Value | None:
        if isinstance(raw, str):
            return known.get(raw.casefold())
        number = _as_float(raw)
        return known.get(f"{number:g}") if number is not None else None

    return read


def _text() -> Converter:
    """Make the converter of a text; one that a screen must not get is no value."""

    def read(raw: RawValue) -> Value | None:
        if isinstance(raw, str):
            return raw if raw.isprintable() else None
        number = _as_float(raw)
        return f"{number:.0f}" if number is not None and number == int(number) else None

    return read


def _for_words(bound: FieldMapping) -> Converter:
    """Make the converter by the map's words: first by value, then by range."""
    table: dict[RawValue, Value] = {
        key.casefold() if isinstance(key, str) else key: value for key, value in bound.words
    }
    ranges = bound.ranges

    def read(raw: RawValue) -> Value | None:
        value = table.get(raw.casefold() if isinstance(raw, str) else raw)
        if value is not None or not ranges:
            return value
        number = _as_float(raw)
        if number is None:
            return None
        return next((each.value for each in ranges if each.low <= number <= each.high), None)

    return read


def _threshold(bound: FieldMapping) -> Converter | None:
    """Make the converter of a threshold; None where the field has no threshold."""
    rule = bound.threshold
    if rule is None:
        return None
    at_least, then, otherwise = rule.at_least, rule.then, rule.otherwise
    scale, offset = bound.scale, bound.offset

    def read(raw: RawValue) -> Value | None:
        value = _as_float(raw)
        return None if value is None else then if value * scale + offset >= at_least else otherwise

    return read


def _inverted(signal: Signal, read: Converter) -> Converter:
    """Exchange the two words of a switch."""
    first, second = signal.words
    other = {first: second, second: first}

    def inverted(raw: RawValue) -> Value | None:
        value = read(raw)
        return other.get(value) if isinstance(value, str) else None

    return inverted


def _bit(source: FieldSource, read: Converter) -> Converter:
    """Pass one bit of a whole number to a converter, as 0 or 1."""
    bit = source.bit or 0

    def read_bit(raw: RawValue) -> Value | None:
        number = raw if type(raw) is int else int(raw) if type(raw) is float and raw.is_integer() else None
        if number is None or not 0 <= number < _MAX_BIT_FIELD:
            return None
        return read(float(number >> bit & 1))

    return read_bit
