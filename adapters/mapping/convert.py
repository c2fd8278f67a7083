"""From one raw value to a signal's value.

    quantity   a number, times scale plus offset, from the field's unit into the signal's
    angle      the same, brought into 0 up to 360 deg
    count      the same, a whole number within a millionth
    switch     one of its words (small or capital letters), or 0 / 1 / false / true for its first / second word
    choice     one of its words; a number only where a word is written so
    text       text; a whole number is written out

A truth value is no number and a number in quotes is none either: both are refused, as the sender meant another field.

Takes: a signal and how it is bound.  Gives: a function from raw to value, None for what cannot be.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from adapters.decoders.base import Raw
from adapters.mapping.plan import Field, Source, Validity
from rules.signals.model import Kind, Signal, Value
from rules.signals.units import linear

Reader: TypeAlias = Callable[[Raw], Value | None]
Check: TypeAlias = Callable[[Raw], bool]

_WHOLE = 1e-6
_HIGHEST_BIT_VALUE = 2**64


def reader(signal: Signal, bound: Field) -> Reader:
    """The function that reads this signal from its field.

    Raises:
        UnitFault: The field's unit does not convert to the signal's.
    """
    read = _of_words(bound) if bound.words or bound.bands else _threshold(bound) or _of_kind(signal, bound)
    if bound.invert:
        read = _inverted(signal, read)
    return _bit(bound.source, read) if bound.source.bit is not None else read


def validity(rule: Validity) -> Check:
    """The function that says from the validity field whether a value may be used."""
    accepted, invert = rule.accepted, rule.invert

    def check(raw: Raw) -> bool:
        return raw is not None and ((float(raw) if isinstance(raw, int) else raw) in accepted) is not invert

    if rule.source.bit is None:
        return check
    bit_of = _bit(rule.source, lambda raw: 1.0 if raw else 0.0)

    def check_bit(raw: Raw) -> bool:
        bit = bit_of(raw)
        return bit is not None and (bit in accepted) is not invert

    return check_bit


def _of_kind(signal: Signal, bound: Field) -> Reader:
    """The reading that the signal's kind asks for."""
    if signal.kind in (Kind.QUANTITY, Kind.ANGLE, Kind.COUNT):
        factor, offset = _line(signal, bound)
        if signal.kind is Kind.ANGLE:
            return _angle(factor, offset)
        return _count(factor, offset) if signal.kind is Kind.COUNT else _number(factor, offset)
    if signal.kind is Kind.SWITCH:
        return _switch(signal.words)
    return _text() if signal.kind is Kind.TEXT else _choice(signal.words)


def _line(signal: Signal, bound: Field) -> tuple[float, float]:
    """Factor and offset from raw to the signal's unit."""
    factor, offset = linear(bound.unit, signal.unit) if bound.unit else (1.0, 0.0)
    return bound.scale * factor, bound.offset * factor + offset


def _plain(raw: Raw) -> float | None:
    """A raw number as a float; None for all that is no number."""
    if type(raw) is float:
        return raw
    return float(raw) if type(raw) is int else None


def _number(factor: float, offset: float) -> Reader:
    """A number on a line."""
    if (factor, offset) == (1.0, 0.0):
        return _plain

    def read(raw: Raw) -> Value | None:
        if type(raw) is float:
            return raw * factor + offset
        return float(raw) * factor + offset if type(raw) is int else None

    return read


def _angle(factor: float, offset: float) -> Reader:
    """An angle on the circle; a sender that counts from -180 or up to 360 is brought into [0, 360)."""

    def read(raw: Raw) -> Value | None:
        value = _plain(raw)
        if value is None:
            return None
        angle = value * factor + offset
        if not -360.0 <= angle <= 720.0:
            return None
        # A tiny negative angle comes out of the modulo as 360 itself.
        wrapped = angle % 360.0
        return 0.0 if wrapped >= 360.0 else wrapped

    return read


def _count(factor: float, offset: float) -> Reader:
    """A whole number."""

    def read(raw: Raw) -> Value | None:
        value = _plain(raw)
        if value is None:
            return None
        whole = value * factor + offset
        return float(round(whole)) if abs(whole - round(whole)) <= _WHOLE else None

    return read


def _switch(words: tuple[str, ...]) -> Reader:
    """One of two words, or 0 and 1 for them."""
    table: dict[Raw, str] = {0.0: words[0], 1.0: words[1]}
    known = {word.casefold(): word for word in words}

    def read(raw: Raw) -> Value | None:
        return known.get(raw.casefold()) if isinstance(raw, str) else table.get(raw)

    return read


def _choice(words: tuple[str, ...]) -> Reader:
    """One of several words."""
    known = {word.casefold(): word for word in words}

    def read(raw: Raw) -> Value | None:
        if isinstance(raw, str):
            return known.get(raw.casefold())
        number = _plain(raw)
        return known.get(f"{number:g}") if number is not None else None

    return read


def _text() -> Reader:
    """Any text."""

    def read(raw: Raw) -> Value | None:
        if isinstance(raw, str):
            return raw
        number = _plain(raw)
        return f"{number:.0f}" if number is not None and number == int(number) else None

    return read


def _of_words(bound: Field) -> Reader:
    """What the map's table says; numbers by value, then by range."""
    table: dict[Raw, Value] = {
        key.casefold() if isinstance(key, str) else key: value for key, value in bound.words
    }
    bands = bound.bands

    def read(raw: Raw) -> Value | None:
        found = table.get(raw.casefold() if isinstance(raw, str) else raw)
        if found is not None or not bands:
            return found
        number = _plain(raw)
        if number is None:
            return None
        return next((band.value for band in bands if band.low <= number <= band.high), None)

    return read


def _threshold(bound: Field) -> Reader | None:
    """One of two words by the size of a number; None where the field has no threshold."""
    rule = bound.threshold
    if rule is None:
        return None
    at_least, then, otherwise = rule.at_least, rule.then, rule.otherwise
    scale, offset = bound.scale, bound.offset

    def read(raw: Raw) -> Value | None:
        value = _plain(raw)
        return None if value is None else then if value * scale + offset >= at_least else otherwise

    return read


def _inverted(signal: Signal, read: Reader) -> Reader:
    """The other one of a switch's two words."""
    first, second = signal.words
    other = {first: second, second: first}

    def inverted(raw: Raw) -> Value | None:
        value = read(raw)
        return other.get(value) if isinstance(value, str) else None

    return inverted


def _bit(source: Source, read: Reader) -> Reader:
    """One bit of a whole number, as 0 or 1."""
    bit = source.bit or 0

    def read_bit(raw: Raw) -> Value | None:
        number = raw if type(raw) is int else int(raw) if type(raw) is float and raw.is_integer() else None
        if number is None or not 0 <= number < _HIGHEST_BIT_VALUE:
            return None
        return read(float(number >> bit & 1))

    return read_bit
