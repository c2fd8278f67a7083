"""Papers as a form has them: sections, fields, and what was typed into them.

Takes: a rig; texts by field.  Gives: `Section`s; values with what is wrong at which field.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.runtime.device import Device
from rules.packs.trip_sheet import TRIP_PREFIX
from rules.packs.trip_values import ALTERNATIVE_UNITS, DENSITY_SIGNAL, TripValueReader, is_fuel
from rules.signals.amounts import parse_amount
from rules.signals.model import Signal, SignalKind, Value
from rules.signals.number_format import format_value
from rules.source import nearest_word, parse_source
from rules.source.fault_collector import FaultCollector, KeyPath

SECTION_TITLES = ("Take-off", "Clearance", "Masses", "Fuel", "Landing", "Other papers")
_CLEARANCE_KEYS = ("first_heading", "first_altitude", "first_speed", "squawk", "cruise_altitude", "distance")
_MASS_KEYS = ("load", "centre_of_gravity")
_LANDING_PREFIXES = ("transition_level", "vref", "minimum", "approach_")
_NO_SOURCE = parse_source("{}", "papers.json")
_RELATIVE_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class TripField:
    """One paper: `words` where it is one of these; `units` are those in which it may be given."""

    key: str
    label: str
    meaning: str
    text: str
    choices: tuple[str, ...]
    units: str


@dataclass(frozen=True, slots=True)
class TripSection:
    """Papers that belong together."""

    title: str
    fields: tuple[TripField, ...]


@dataclass(frozen=True, slots=True)
class FieldError:
    """Why a text cannot be a paper."""

    what: str
    expected: str
    hint: str


def trip_sections(device: Device) -> tuple[TripSection, ...]:
    """The papers that hold, by section."""
    held = device.session.judge.trip_values
    gathered: dict[str, list[TripField]] = {title: [] for title in SECTION_TITLES}
    for name, signal in device.pack.signals.items():
        if name.startswith(TRIP_PREFIX):
            gathered[section_of(name.removeprefix(TRIP_PREFIX))].append(_field(signal, held.get(name)))
    return tuple(TripSection(title, tuple(fields)) for title, fields in gathered.items() if fields)


def section_of(key: str) -> str:
    """Where a paper stands in the form."""
    if key in _CLEARANCE_KEYS:
        return "Clearance"
    if key.endswith("_mass") or key in _MASS_KEYS:
        return "Masses"
    if "fuel" in key:
        return "Fuel"
    if key.startswith(("landing_", *_LANDING_PREFIXES)):
        return "Landing"
    return "Take-off"


def field_text(value: Value | None, signal: Signal) -> str:
    """A value so that it reads back as itself, '' for none."""
    if value is None or isinstance(value, str):
        return value or ""
    if signal.kind is SignalKind.COUNT:
        return f"{value:04.0f}" if signal.name.endswith("squawk") else f"{value:.0f}"
    text = format_value(value, signal.unit)
    amount = parse_amount(text)
    if amount is not None and abs(amount.value - value) <= _RELATIVE_TOLERANCE * max(1.0, abs(value)):
        return text
    return f"{value:.12g} {signal.unit}".removesuffix(" 1")


def parse_fields(
    texts: Mapping[str, str], signals: Mapping[str, Signal], density_kg_l: float | None = None
) -> tuple[dict[str, Value], dict[str, FieldError]]:
    """What was typed, as values.

    Args:
        texts: texts by key ("v1"); one without anything in it is passed over.
        signals: those of the pack.
        density_kg_l: of the papers that hold, for fuel by volume.

    Returns:
        The values by signal name, and what is wrong by key.
    """
    faults = _FieldFaults(_NO_SOURCE)
    reader = TripValueReader(faults)
    reader.density_kg_l = density_kg_l
    values: dict[str, Value] = {}
    for key, text in sorted(texts.items(), key=lambda one: f"{TRIP_PREFIX}{one[0]}" != DENSITY_SIGNAL):
        signal = signals.get(f"{TRIP_PREFIX}{key}")
        if signal is None:
            faults.unknown(key, signals)
        elif text.strip() and (value := reader.parse((key,), signal, text.strip())) is not None:
            values[signal.name] = value
            if signal.name == DENSITY_SIGNAL and isinstance(value, float):
                reader.density_kg_l = value
    return values, faults.errors


@dataclass(slots=True)
class _FieldFaults(FaultCollector):
    """Faults by the key of their field."""

    errors: dict[str, FieldError] = field(default_factory=dict)

    def add(self, path: KeyPath, what: str, expected: str = "", hint: str = "", *, key: bool = False) -> None:
        """Note a fault at a field."""
        del key
        self.errors[str(path[-1])] = FieldError(what, expected, hint)

    def unknown(self, key: str, signals: Mapping[str, Signal]) -> None:
        """A key that the sheet does not have."""
        keys = [name.removeprefix(TRIP_PREFIX) for name in signals if name.startswith(TRIP_PREFIX)]
        near = nearest_word(key[:60], keys)
        hint = f"did you mean {near}?" if near else ""
        self.errors[key[:60]] = FieldError("the sheet has no such value", "a value of the trip sheet", hint)


def _field(signal: Signal, value: Value | None) -> TripField:
    words = signal.words if signal.kind in (SignalKind.SWITCH, SignalKind.CHOICE) else ()
    label = signal.label.removeprefix("sheet ")
    return TripField(
        signal.name.removeprefix(TRIP_PREFIX),
        label,
        signal.meaning,
        field_text(value, signal),
        words,
        _units(signal),
    )


def _units(signal: Signal) -> str:
    """The units in which a paper may be given, as far as they are usual."""
    if is_fuel(signal):
        return "kg, lb, l or gal"
    return ALTERNATIVE_UNITS.get(signal.unit, "" if signal.unit == "1" else signal.unit)
