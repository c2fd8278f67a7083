"""Trip sheet: data of one flight, as the values of the `trip.*` signals.

    trip:
      title: Lindmere 417, Port Averil runway 14
      inoperative: [apu, ice.detected]
      values: {v1: 128 kt, block_fuel: 18 078 lb, qnh: 29.80 inHg, runway: "14", squawk: 4217}

Plausibility of the values, such as V1 below VR, is checked by the items of a pack.

Takes: a YAML or JSON file.  Gives: `TripSheet`, or `InputFaults` with every fault of the sheet.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from rules.faults import InputFaults, Place
from rules.packs.trip_values import DENSITY_SIGNAL, TripValueReader
from rules.signals.book import load_book
from rules.signals.model import TRIP_PREFIX, Signal, Value
from rules.source import SourceDocument, did_you_mean, read_source, unknown_word
from rules.source.fault_collector import FaultCollector

_NAME = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)*")
_VALUES_PATH = ("trip", "values")


@dataclass(frozen=True, slots=True)
class TripSheet:
    """Data of one flight.

    Attributes:
        title: One line that names the flight.
        values: Values by signal name (`trip.v1`), in the signal book's units.
        inoperative: Signal names or dotted prefixes of what is dispatched inoperative.
        note: Note of the sheet's author.
        calls: Speakers whose calls are entered, `all` for all; None where the sheet does not say.
        places: Where the words of `inoperative` and `calls` are in the file.
    """

    title: str
    values: Mapping[str, Value]
    inoperative: tuple[str, ...] = ()
    note: str = ""
    calls: tuple[str, ...] | None = None
    places: Mapping[str, Place] = field(default_factory=dict, compare=False, repr=False)

    def place_of(self, word: str) -> Place:
        """Place of a word of `inoperative` or `calls` in the file; without a line where the sheet comes from no file."""
        return self.places.get(word, Place("trip sheet"))


class TripForm(BaseModel):
    """Form of the sheet; its values are checked one by one, so that all of their faults are found."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, use_attribute_docstrings=True)

    title: str = Field(min_length=1)
    """One line that names the flight."""
    note: str = ""
    """Note of the author."""
    inoperative: list[str] = []
    """Signals that are dispatched inoperative, or beginnings of their names up to a dot."""
    calls: Literal["all", "none"] | list[str] | None = None
    """Speakers whose calls are entered in this session: a list, `all` or `none`."""
    values: dict[str, object] = {}
    """Values by name; numbers with their units."""


class _TripFileForm(BaseModel):
    """Form of the file, which has one key."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, use_attribute_docstrings=True)

    trip: TripForm


def load_trip_sheet(path: FilePath | str, signals: Mapping[str, Signal] | None = None) -> TripSheet:
    """Read a trip sheet.

    Args:
        path: The file.
        signals: Signals of the pack, with its `trip.*`: then each inoperative name must be one of them, or the dotted
            beginning of one.  Without, the shipped book of trip signals is used, and those names are not checked.

    Raises:
        InputFaults: Every fault of the sheet.
    """
    return parse_trip_sheet(read_source(FilePath(path)), signals)


def parse_trip_sheet(source: SourceDocument, signals: Mapping[str, Signal] | None = None) -> TripSheet:
    """Read a trip sheet from a source, otherwise like `load_trip_sheet`."""
    faults = FaultCollector(source)
    file = faults.validate(_TripFileForm, ())
    known = signals if signals is not None else load_book("trip").signals
    trip_signals = {name: signal for name, signal in known.items() if name.startswith(TRIP_PREFIX)}
    values = _read_values(faults, trip_signals)
    if file is not None:
        _check_inoperative(faults, file.trip.inoperative, signals)
    if file is None or faults.faults:
        raise InputFaults(sorted(faults.faults, key=lambda fault: (fault.place.line, fault.place.column)))
    inoperative, calls = tuple(file.trip.inoperative), _speakers(file.trip.calls)
    places = {
        word: source.place(("trip", key, number))
        for key, words in (("inoperative", file.trip.inoperative), ("calls", file.trip.calls))
        for number, word in enumerate(words if isinstance(words, list) else ())
    }
    return TripSheet(file.trip.title, values, inoperative, file.trip.note, calls, places)


def _speakers(calls: str | list[str] | None) -> tuple[str, ...] | None:
    """Speakers whose calls are entered, as `TripSheet` has them."""
    if isinstance(calls, str):
        return () if calls == "none" else (calls,)
    return None if calls is None else tuple(calls)


def _check_inoperative(
    faults: FaultCollector, names: list[str], signals: Mapping[str, Signal] | None
) -> None:
    """Check the form of each name, and that it is the beginning of a signal where the signals are known."""
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
            faults.add(at, *unknown_word("signal", name, prefixes))
        elif name in names[:number]:
            faults.add(at, f"'{name}' is listed twice", "each name once")


def _read_values(faults: FaultCollector, trip_signals: Mapping[str, Signal]) -> dict[str, Value]:
    """Valid values by signal name; the density of the fuel first, since a volume needs it."""
    data, values, reader = faults.source.value_at(_VALUES_PATH), dict[str, Value](), TripValueReader(faults)
    given = list(data.items()) if isinstance(data, dict) else []
    for key, text in sorted(given, key=lambda entry: f"{TRIP_PREFIX}{entry[0]}" != DENSITY_SIGNAL):
        signal = trip_signals.get(f"{TRIP_PREFIX}{key}")
        if signal is None:
            _add_unknown_key(faults, key, trip_signals)
        elif text is None:
            faults.add((*_VALUES_PATH, key), f"{key} has no value", "a value, or the line left out", key=True)
        elif (value := reader.parse((*_VALUES_PATH, key), signal, text)) is not None:
            values[signal.name] = value
            if signal.name == DENSITY_SIGNAL and isinstance(value, float):
                reader.density_kg_l = value
    return values


def _add_unknown_key(faults: FaultCollector, key: str | int, trip_signals: Mapping[str, Signal]) -> None:
    """Report an unknown key."""
    keys = [name.removeprefix(TRIP_PREFIX) for name in trip_signals]
    hint = did_you_mean(str(key), keys) or f"the sheet knows {', '.join(sorted(keys))}"
    faults.add((*_VALUES_PATH, key), f"unknown key {key}", "a value of the trip sheet", hint, key=True)
