"""One value of a trip sheet: a word, a text, a code, or a number with its unit, in the unit of its signal.

A fuel mass may be given as a volume, since a fuel slip has litres or US gallons; the density is then the sheet's own
(`fuel_density`), never a guess.

Takes: what stands on the sheet and the signal that it is for.  Gives: the value; what is wrong goes to the `Faults`.
"""

from __future__ import annotations

import math
import re

from rules.arithmetic import fuel
from rules.arithmetic.impossible import Impossible
from rules.signals import units
from rules.signals.amounts import Amount, comma_hint, read_amount
from rules.signals.form import Faults, Path
from rules.signals.model import Kind, Signal, Value
from rules.signals.numbers import say
from rules.source import nearest

# ICAO Annex 10, Volume IV: a Mode A code is four digits, each 0 to 7 (from memory).
_OCTAL = re.compile(r"[0-7]{1,4}")
_OCTAL_NAMES = frozenset({"trip.squawk"})
EITHER = {
    "kg": "kg or lb",
    "hPa": "hPa or inHg",
    "l": "l or gal",
    "ft": "ft or m",
    "m": "m or ft",
    "degC": "degC or degF",
}
"""Units of which a sheet has one or the other."""

DENSITY = "trip.fuel_density"
_TANKS = ("left", "centre", "right", "before")


class Values:
    """Reads values; `density_kg_l` is the sheet's own, None where it has none."""

    def __init__(self, faults: Faults) -> None:
        """Read for this file."""
        self._faults = faults
        self.density_kg_l: float | None = None

    def read(self, at: Path, signal: Signal, said: object) -> Value | None:
        """One value in the signal's unit; None, with a fault, where it cannot be one."""
        if signal.kind in (Kind.SWITCH, Kind.CHOICE):
            return self._word(at, signal, said)
        if signal.kind is Kind.TEXT:
            return self._text(at, signal, said)
        read = self._count if signal.kind is Kind.COUNT else self._quantity
        number = read(at, signal, said)
        if number is not None and not signal.low <= number <= signal.high:
            ends = f"{say(signal.low, '')} to {say(signal.high, signal.unit)}"
            self._faults.add(at, f"{signal.label} of {say(number, signal.unit)} is out of range", ends)
            return None
        return number

    def _word(self, at: Path, signal: Signal, said: object) -> str | None:
        """One of the signal's words."""
        if isinstance(said, str) and said in signal.words:
            return said
        near = nearest(str(said), signal.words)
        hint = f"did you mean {near}?" if near else ""
        what = f"{_shown(said)} is not a word of {signal.label}"
        self._faults.add(at, what, " or ".join(signal.words), hint)
        return None

    def _text(self, at: Path, signal: Signal, said: object) -> str | None:
        """Text that is not too long."""
        if not isinstance(said, str):
            hint = f'write "{said}"' if isinstance(said, int) and not isinstance(said, bool) else ""
            self._faults.add(at, f"{_shown(said)} is not text", "text (put it in quotes)", hint)
        elif not 0 < len(said) <= signal.longest:
            self._faults.add(at, f"{_shown(said)} has {len(said)} characters", f"1 to {signal.longest}")
        else:
            return said
        return None

    def _count(self, at: Path, signal: Signal, said: object) -> float | None:
        """A whole number without a unit; a squawk has octal digits."""
        # 0217 is text in a source: its leading zero is a digit of the code.
        digits = str(said) if isinstance(said, str | int) and not isinstance(said, bool) else ""
        octal = signal.name in _OCTAL_NAMES
        if octal and _OCTAL.fullmatch(digits):
            return float(digits)
        if not octal and re.fullmatch(r"\d{1,9}", digits, re.ASCII):
            return float(digits)
        expected = "four digits from 0 to 7" if octal else "a whole number without a unit"
        what = f"{_shown(said)} is not a {'code' if octal else 'count'} for {signal.label}"
        self._faults.add(at, what, expected)
        return None

    def _quantity(self, at: Path, signal: Signal, said: object) -> float | None:
        """A number with a unit that converts, in the signal's unit."""
        text = str(said) if isinstance(said, int | float) and not isinstance(said, bool) else said
        amount = read_amount(text) if isinstance(text, str) else None
        if amount is None or not math.isfinite(amount.value):
            hint = comma_hint(str(said)) or f"{signal.label} is in {signal.unit}"
            expected = f"a number with its unit, such as {_such(signal)}"
            self._faults.add(at, f"{_shown(said)} is not an amount", expected, hint)
            return None
        if not amount.unit and signal.unit != "1":
            self._without_unit(at, signal, str(text), _shown(said))
            return None
        return self._converted(at, signal, amount)

    def _without_unit(self, at: Path, signal: Signal, text: str, shown: str) -> None:
        """A number that could be in this unit or in another is not guessed at."""
        either = EITHER.get(signal.unit, "")
        ways = [f"{text} {unit}" for unit in either.split(" or ")] if either else [f"{text} {signal.unit}"]
        expected = either or f"a unit such as {signal.unit}"
        self._faults.add(at, f"{shown} has no unit", expected, f"write {' or '.join(ways)}")

    def _converted(self, at: Path, signal: Signal, amount: Amount) -> float | None:
        """The amount in the signal's unit, a volume of fuel by way of its density."""
        if is_fuel(signal) and units.compatible(amount.unit, "l"):
            return self._weighed(at, units.convert(amount.value, amount.unit, "l"))
        try:
            return units.convert(amount.value, amount.unit, signal.unit)
        except units.UnitFault as fault:
            expected = f"{signal.unit}, or a unit that converts to it"
            self._faults.add(at, fault.what, expected, fault.hint)
            return None

    def _weighed(self, at: Path, volume_l: float) -> float | None:
        """The mass of a volume of fuel."""
        if self.density_kg_l is None:
            hint = "write such as fuel_density: 0.8 kg/l"
            self._faults.add(at, "a volume of fuel needs its density", "fuel_density on the sheet", hint)
            return None
        try:
            return fuel.mass_kg(volume_l, self.density_kg_l)
        except Impossible as refused:
            self._faults.add(at, refused.what, refused.expected)
            return None


def is_fuel(signal: Signal) -> bool:
    """Whether a signal is a mass of fuel."""
    return signal.unit == "kg" and signal.name.endswith(("_fuel", *(f".fuel_{tank}" for tank in _TANKS)))


def _such(signal: Signal) -> str:
    """An amount that would do."""
    return say(round((signal.low + signal.high) / 2), signal.unit)


def _shown(said: object) -> str:
    """What stands there, short enough to print."""
    if isinstance(said, dict | list):
        return "a list" if isinstance(said, list) else "a mapping"
    text = str(said).lower() if isinstance(said, bool) else str(said)
    return f"'{text if len(text) <= 40 else text[:37] + '...'}'"
