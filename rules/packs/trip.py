"""The trip sheet: what the papers of one flight say, as the values of the `trip.*` signals.

    trip:
      title: Lindmere 417, Port Averil runway 14
      inoperative: [apu, ice.detected]
      values: {v1: 128 kt, block_fuel: 18 078 lb, qnh: 29.80 inHg, runway: "14", squawk: 4217}

Whether V1 is below VR is not asked here: that is a pack's business, like every other sense of a value.

Takes: a YAML or JSON file.  Gives: `Trip`, or `InputFaults` with every fault of the sheet.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath

from pydantic import BaseModel, ConfigDict, Field

from rules.faults import InputFaults
from rules.packs.trip_values import DENSITY, Values
from rules.signals.book import load_book
from rules.signals.form import Faults
from rules.signals.model import Signal, Value
from rules.source import Source, nearest, read_source

PREFIX = "trip."
_NAME = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)*")
_AT = ("trip", "values")


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
    """Every value that could be read, by signal name; the fuel's density first, since a volume needs it."""
    data, values, reader = faults.source.at(_AT), dict[str, Value](), Values(faults)
    given = list(data.items()) if isinstance(data, dict) else []
    for key, said in sorted(given, key=lambda entry: f"{PREFIX}{entry[0]}" != DENSITY):
        signal = papers.get(f"{PREFIX}{key}")
        if signal is None:
            _unknown(faults, key, papers)
        elif said is None:
            faults.add((*_AT, key), f"{key} has no value", "a value, or the line left out", key=True)
        elif (value := reader.read((*_AT, key), signal, said)) is not None:
            values[signal.name] = value
            if signal.name == DENSITY and isinstance(value, float):
                reader.density_kg_l = value
    return values


def _unknown(faults: Faults, key: str | int, papers: Mapping[str, Signal]) -> None:
    """A key that the sheet does not have."""
    keys = [name.removeprefix(PREFIX) for name in papers]
    near = nearest(str(key), keys)
    hint = f"did you mean {near}?" if near else f"the sheet knows {', '.join(sorted(keys))}"
    faults.add((*_AT, key), f"unknown key {key}", "a value of the trip sheet", hint, key=True)
