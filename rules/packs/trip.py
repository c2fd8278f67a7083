"""The trip sheet: what the papers of one flight say, as the values of the `trip.*` signals.

    trip:
      title: Lindmere 417, Port Averil runway 14
      inoperative: [apu, ice.detected]
      values: {v1: 128 kt, block_fuel: 8 200 kg, runway: "14", squawk: 4217}

Whether V1 is below VR is not asked here: that is a pack's business, like every other sense of a value.

Takes: a YAML or JSON file.  Gives: `Trip`, or `InputFaults` with every fault of the sheet.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath

from pydantic import BaseModel, ConfigDict, Field

from rules.faults import InputFaults
from rules.signals import units
from rules.signals.amounts import comma_hint, read_amount
from rules.signals.book import load_book
from rules.signals.form import Faults, Path
from rules.signals.model import Kind, Signal, Value
from rules.signals.numbers import say
from rules.source import Source, nearest, read_source

PREFIX = "trip."
_NAME = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)*")
_AT = ("trip", "values")
# ICAO Annex 10, Volume IV: a Mode A code is four digits, each 0 to 7 (from memory).
_OCTAL = re.compile(r"[0-7]{1,4}")
_OCTAL_NAMES = frozenset({"trip.squawk"})


@dataclass(frozen=True, slots=True)
class Trip:
    """The papers of one flight.

    Attributes:
        title: One line that names the flight.
        values: By signal name (`trip.v1`), in the signal book's units.
        inoperative: Signal names or dotted prefixes of what is dispatched inoperative.
        note: What else the sheet's author says.
    """

    title: str
    values: Mapping[str, Value]
    inoperative: tuple[str, ...] = ()
    note: str = ""


class _Sheet(BaseModel):
    """The sheet's shape; values are looked at one by one, so that all their faults are found."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    title: str = Field(min_length=1)
    note: str = ""
    inoperative: list[str] = []
    values: dict[str, object] = {}


class _File(BaseModel):
    """A trip sheet's file has one key."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    trip: _Sheet


def load_trip(path: FilePath | str, signals: Mapping[str, Signal] | None = None) -> Trip:
    """Read a trip sheet.

    Args:
        path: The file.
        signals: The pack's signals, its `trip.*` among them: then each inoperative name must be one of them, or
            the dotted beginning of one.  Without, the shipped book of trip signals is used, and they are not checked.

    Raises:
        InputFaults: Every fault of the sheet.
    """
    return trip_from(read_source(FilePath(path)), signals)


def trip_from(source: Source, signals: Mapping[str, Signal] | None = None) -> Trip:
    """Read a trip sheet that is a source already; the rest is as for `load_trip`."""
    faults = Faults(source)
    file = faults.shape(_File, ())
    known = signals if signals is not None else load_book("trip").signals
    papers = {name: signal for name, signal in known.items() if name.startswith(PREFIX)}
    values = _values(faults, papers)
    if file is not None:
        _inoperative(faults, file.trip.inoperative, signals)
    if file is None or faults.found:
        raise InputFaults(sorted(faults.found, key=lambda fault: (fault.place.line, fault.place.column)))
    return Trip(file.trip.title, values, tuple(file.trip.inoperative), file.trip.note)


def _inoperative(faults: Faults, names: list[str], signals: Mapping[str, Signal] | None) -> None:
    """Each name can be one; where the pack is known, it names at least one signal."""
    prefixes = set[str]()
    for name in signals or ():
        parts = name.split(".")
        prefixes.update(".".join(parts[:depth]) for depth in range(1, len(parts) + 1))
    for number, name in enumerate(names):
        at = ("trip", "inoperative", number)
        if not _NAME.fullmatch(name):
            faults.add(
                at, f"'{name}' is not a signal's name", "a name, or its beginning up to a dot: ice.engine"
            )
        elif signals is not None and name not in prefixes:
            near = nearest(name, prefixes)
            faults.add(at, f"no signal is called '{name}'", "", f"did you mean {near}?" if near else "")
        elif name in names[:number]:
            faults.add(at, f"'{name}' stands twice", "each name once")


def _values(faults: Faults, papers: Mapping[str, Signal]) -> dict[str, Value]:
    """Every value that could be read, by signal name."""
    data, values = faults.source.at(_AT), dict[str, Value]()
    keys = [name.removeprefix(PREFIX) for name in papers]
    for key, said in data.items() if isinstance(data, dict) else ():
        signal = papers.get(f"{PREFIX}{key}")
        if signal is None:
            near = nearest(str(key), keys)
            hint = f"did you mean {near}?" if near else f"the sheet knows {', '.join(sorted(keys))}"
            faults.add((*_AT, key), f"unknown key {key}", "a value of the trip sheet", hint, key=True)
            continue
        if said is None:
            faults.add((*_AT, key), f"{key} has no value", "a value, or the line left out", key=True)
        elif (value := _value(faults, (*_AT, key), signal, said)) is not None:
            values[signal.name] = value
    return values


def _value(faults: Faults, at: Path, signal: Signal, said: object) -> Value | None:
    """One value in the signal's unit; None, with a fault, where it cannot be one."""
    if signal.kind in (Kind.SWITCH, Kind.CHOICE):
        return _word(faults, at, signal, said)
    if signal.kind is Kind.TEXT:
        return _text(faults, at, signal, said)
    read = _count if signal.kind is Kind.COUNT else _quantity
    number = read(faults, at, signal, said)
    if number is not None and not signal.low <= number <= signal.high:
        ends = f"{say(signal.low, '')} to {say(signal.high, signal.unit)}"
        faults.add(at, f"{signal.label} of {say(number, signal.unit)} is out of range", ends)
        return None
    return number


def _word(faults: Faults, at: Path, signal: Signal, said: object) -> str | None:
    """One of the signal's words."""
    if isinstance(said, str) and said in signal.words:
        return said
    near = nearest(str(said), signal.words)
    hint = f"did you mean {near}?" if near else ""
    faults.add(at, f"{_shown(said)} is not a word of {signal.label}", " or ".join(signal.words), hint)
    return None


def _text(faults: Faults, at: Path, signal: Signal, said: object) -> str | None:
    """Text that is not too long."""
    if not isinstance(said, str):
        hint = f'write "{said}"' if isinstance(said, int) and not isinstance(said, bool) else ""
        faults.add(at, f"{_shown(said)} is not text", "text (put it in quotes)", hint)
    elif not 0 < len(said) <= signal.longest:
        faults.add(at, f"{_shown(said)} has {len(said)} characters", f"1 to {signal.longest}")
    else:
        return said
    return None


def _count(faults: Faults, at: Path, signal: Signal, said: object) -> float | None:
    """A whole number without a unit; a squawk has octal digits."""
    # 0217 is text in a source: its leading zero is a digit of the code.
    digits = str(said) if isinstance(said, str | int) and not isinstance(said, bool) else ""
    octal = signal.name in _OCTAL_NAMES
    if octal and _OCTAL.fullmatch(digits):
        return float(digits)
    if not octal and re.fullmatch(r"\d{1,9}", digits, re.ASCII):
        return float(digits)
    expected = "four digits from 0 to 7" if octal else "a whole number without a unit"
    faults.add(at, f"{_shown(said)} is not a {'code' if octal else 'count'} for {signal.label}", expected)
    return None


def _quantity(faults: Faults, at: Path, signal: Signal, said: object) -> float | None:
    """A number with a unit that converts, in the signal's unit."""
    text = str(said) if isinstance(said, int | float) and not isinstance(said, bool) else said
    amount = read_amount(text) if isinstance(text, str) else None
    if amount is None or not math.isfinite(amount.value):
        hint = comma_hint(str(said)) or f"{signal.label} is in {signal.unit}"
        faults.add(
            at, f"{_shown(said)} is not an amount", f"a number with its unit, such as {_such(signal)}", hint
        )
        return None
    if not amount.unit and signal.unit != "1":
        faults.add(
            at, f"{_shown(said)} has no unit", f"a unit such as {signal.unit}", f"write {text} {signal.unit}"
        )
        return None
    try:
        return units.convert(amount.value, amount.unit, signal.unit)
    except units.UnitFault as fault:
        faults.add(at, fault.what, f"{signal.unit}, or a unit that converts to it", fault.hint)
        return None


def _such(signal: Signal) -> str:
    """An amount that would do."""
    return say(round((signal.low + signal.high) / 2), signal.unit)


def _shown(said: object) -> str:
    """What stands there, short enough to print."""
    if isinstance(said, dict | list):
        return "a list" if isinstance(said, list) else "a mapping"
    text = str(said).lower() if isinstance(said, bool) else str(said)
    return f"'{text if len(text) <= 40 else text[:37] + '...'}'"
