"""Parser of one trip value: a word, a text, a code, or a number with its unit, in the unit of its signal.

A mass of fuel may be given as a volume, as on a fuel slip in litres or US gallons; the density is then the sheet's own
(`fuel_density`), never a default.

Takes: a value of the sheet and its signal.  Gives: the value; faults go to the `FaultCollector`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from rules.arithmetic import fuel
from rules.arithmetic.domain import DomainError
from rules.signals import units
from rules.signals.amounts import Amount, comma_hint, parse_amount
from rules.signals.model import Signal, SignalKind, Value
from rules.signals.number_format import format_value
from rules.source import did_you_mean
from rules.source.fault_collector import FaultCollector, KeyPath

# ICAO Annex 10, Volume IV: a Mode A code is four digits, each 0 to 7 (from memory).
_OCTAL = re.compile(r"[0-7]{1,4}")
_OCTAL_NAMES = frozenset({"trip.squawk"})
ALTERNATIVE_UNITS = {
    "kg": "kg or lb",
    "hPa": "hPa or inHg",
    "l": "l or gal",
    "ft": "ft or m",
    "m": "m or ft",
    "degC": "degC or degF",
}
"""Units of which a sheet has one or the other."""

DENSITY_SIGNAL = "trip.fuel_density"
_STRIP = ("heading", "latitude", "longitude")
STRIPS = {
    runway: tuple(f"{runway}_{value}" for value in _STRIP)
    for runway in ("trip.runway", "trip.landing_runway")
}
"""Each runway of the sheet, with the values that say where it lies: they are those of this runway alone."""
_TANKS = ("left", "centre", "right", "before")


class TripValueReader:
    """Parses values; `density_kg_l` is the sheet's own, None where it has none."""

    def __init__(self, faults: FaultCollector) -> None:
        self._faults = faults
        self.density_kg_l: float | None = None

    def parse(self, at: KeyPath, signal: Signal, given: object) -> Value | None:
        """Parse one value in the signal's unit; None, with a fault, where it is invalid."""
        if signal.kind in (SignalKind.SWITCH, SignalKind.CHOICE):
            return self._word(at, signal, given)
        if signal.kind is SignalKind.TEXT:
            return self._text(at, signal, given)
        read = self._count if signal.kind is SignalKind.COUNT else self._quantity
        number = read(at, signal, given)
        if number is not None and not signal.low <= number <= signal.high:
            limits = f"{format_value(signal.low, '')} to {format_value(signal.high, signal.unit)}"
            self._faults.add(
                at, f"{signal.label} of {format_value(number, signal.unit)} is out of range", limits
            )
            return None
        return number

    def _word(self, at: KeyPath, signal: Signal, given: object) -> str | None:
        """Parse one of the signal's words."""
        if isinstance(given, str) and given in signal.words:
            return given
        hint = did_you_mean(str(given), signal.words)
        what = f"{_printable(given)} is not a word of {signal.label}"
        self._faults.add(at, what, " or ".join(signal.words), hint)
        return None

    def _text(self, at: KeyPath, signal: Signal, given: object) -> str | None:
        """Parse a text of limited length."""
        if not isinstance(given, str):
            hint = f'write "{given}"' if isinstance(given, int) and not isinstance(given, bool) else ""
            self._faults.add(at, f"{_printable(given)} is not text", "text (put it in quotes)", hint)
        elif not 0 < len(given) <= signal.max_length:
            self._faults.add(
                at, f"{_printable(given)} has {len(given)} characters", f"1 to {signal.max_length}"
            )
        else:
            return given
        return None

    def _count(self, at: KeyPath, signal: Signal, given: object) -> float | None:
        """Parse a whole number without a unit; a squawk has octal digits."""
        # 0217 is text in a source: its leading zero is a digit of the code.
        digits = str(given) if isinstance(given, str | int) and not isinstance(given, bool) else ""
        octal = signal.name in _OCTAL_NAMES
        if octal and _OCTAL.fullmatch(digits):
            return float(digits)
        if not octal and re.fullmatch(r"\d{1,9}", digits, re.ASCII):
            return float(digits)
        expected = "four digits from 0 to 7" if octal else "a whole number without a unit"
        what = f"{_printable(given)} is not a {'code' if octal else 'count'} for {signal.label}"
        self._faults.add(at, what, expected)
        return None

    def _quantity(self, at: KeyPath, signal: Signal, given: object) -> float | None:
        """Parse a number with a unit, in the signal's unit."""
        text = str(given) if isinstance(given, int | float) and not isinstance(given, bool) else given
        amount = parse_amount(text) if isinstance(text, str) else None
        if amount is None or not math.isfinite(amount.value):
            hint = comma_hint(str(given)) or f"{signal.label} is in {signal.unit}"
            expected = f"a number with its unit, such as {_example_amount(signal)}"
            self._faults.add(at, f"{_printable(given)} is not an amount", expected, hint)
            return None
        if not amount.unit and signal.unit != "1":
            self._add_missing_unit(at, signal, str(text), _printable(given))
            return None
        return self._converted(at, signal, amount)

    def _add_missing_unit(self, at: KeyPath, signal: Signal, text: str, shown: str) -> None:
        """Report a number without a unit, which could be in one of two units."""
        either = ALTERNATIVE_UNITS.get(signal.unit, "")
        ways = [f"{text} {unit}" for unit in either.split(" or ")] if either else [f"{text} {signal.unit}"]
        expected = either or f"a unit such as {signal.unit}"
        self._faults.add(at, f"{shown} has no unit", expected, f"write {' or '.join(ways)}")

    def _converted(self, at: KeyPath, signal: Signal, amount: Amount) -> float | None:
        """Convert an amount to the signal's unit, a volume of fuel by its density."""
        if is_fuel(signal) and units.compatible(amount.unit, "l"):
            return self._mass_of_volume(at, units.convert(amount.value, amount.unit, "l"))
        try:
            return units.convert(amount.value, amount.unit, signal.unit)
        except units.UnitFault as fault:
            expected = f"{signal.unit}, or a unit that converts to it"
            self._faults.add(at, fault.what, expected, fault.hint)
            return None

    def _mass_of_volume(self, at: KeyPath, volume_l: float) -> float | None:
        """Mass of a volume of fuel, in kg."""
        if self.density_kg_l is None:
            hint = "write such as fuel_density: 0.8 kg/l"
            self._faults.add(at, "a volume of fuel needs its density", "fuel_density on the sheet", hint)
            return None
        try:
            return fuel.mass_kg(volume_l, self.density_kg_l)
        except DomainError as refused:
            self._faults.add(at, refused.what, refused.expected)
            return None


def strips_left_behind(present: Mapping[str, Value], amended: Mapping[str, Value]) -> dict[str, list[str]]:
    """Find what an amended sheet would leave of a runway that it replaces.

    Args:
        present: The values before, by signal name.
        amended: The values of the amended sheet, by signal name.

    Returns:
        Each runway that changes, with the values of its strip that only the old runway has.
    """
    changed = (
        name for name in STRIPS if name in amended and name in present and amended[name] != present[name]
    )
    left = {
        name: [part for part in STRIPS[name] if part in present and part not in amended] for name in changed
    }
    return {name: parts for name, parts in left.items() if parts}


def is_fuel(signal: Signal) -> bool:
    """True if a signal is a mass of fuel."""
    return signal.unit == "kg" and signal.name.endswith(("_fuel", *(f".fuel_{tank}" for tank in _TANKS)))


def _example_amount(signal: Signal) -> str:
    """Example of a valid amount."""
    return format_value(round((signal.low + signal.high) / 2), signal.unit)


def _printable(given: object) -> str:
    """Text of a value, short enough to print."""
    if isinstance(given, dict | list):
        return "a list" if isinstance(given, list) else "a mapping"
    text = str(given).lower() if isinstance(given, bool) else str(given)
    return f"'{text if len(text) <= 40 else text[:37] + '...'}'"
