"""Converts the trip sheet to the fields of a form, and the texts of the fields back to values.

Takes: a pack and its trip values; the texts of changed fields.  Gives: `TripSection`s; values, and a `FieldError` for each wrong field.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rules.packs.model import Pack
from rules.packs.trip_values import ALTERNATIVE_UNITS, DENSITY_SIGNAL, TripValueReader, is_fuel
from rules.signals.amounts import parse_amount
from rules.signals.model import TRIP_PREFIX, Signal, SignalKind, Value
from rules.signals.number_format import format_value
from rules.source import FaultCollector, KeyPath, did_you_mean, parse_source

SECTION_TITLES = ("Take-off", "Clearance", "Masses", "Fuel", "Landing", "Other")
_CLEARANCE_KEYS = ("first_heading", "first_altitude", "first_speed", "squawk", "cruise_altitude", "distance")
_MASS_KEYS = ("load", "centre_of_gravity")
_LANDING_PREFIXES = ("transition_level", "vref", "minimum", "approach_")
_NO_SOURCE = parse_source("{}", "trip_sheet.json")
_RELATIVE_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class TripField:
    """One value of the trip sheet; `choices` are its words if it has any, `units` are the accepted units."""

    key: str
    label: str
    meaning: str
    text: str
    choices: tuple[str, ...]
    units: str


@dataclass(frozen=True, slots=True)
class TripSection:
    """The fields that belong together."""

    title: str
    fields: tuple[TripField, ...]


@dataclass(frozen=True, slots=True)
class FieldError:
    """The reason why a text is not a valid value."""

    what: str
    expected: str
    hint: str


def trip_sections(pack: Pack, current: Mapping[str, Value]) -> tuple[TripSection, ...]:
    """Return the present values of a trip sheet, by signal name, by section."""
    by_title: dict[str, list[TripField]] = {title: [] for title in SECTION_TITLES}
    for name, signal in pack.signals.items():
        if name.startswith(TRIP_PREFIX):
            by_title[section_of(name.removeprefix(TRIP_PREFIX))].append(_field(signal, current.get(name)))
    return tuple(TripSection(title, tuple(fields)) for title, fields in by_title.items() if fields)


def section_of(key: str) -> str:
    """Return the title of the section of a value."""
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
    """Format a value so that it parses back to the same value; '' for none."""
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
    """Parse the texts of the form.

    Args:
        texts: texts by key ("v1"); an empty text is skipped.
        signals: the signals of the pack.
        density_kg_l: fuel density of the current trip sheet, kg/l, for fuel by volume.

    Returns:
        The values by signal name, and the errors by key.
    """
    faults = _FieldFaults(_NO_SOURCE)
    reader = TripValueReader(faults)
    reader.density_kg_l = density_kg_l
    values: dict[str, Value] = {}
    # The density comes first: it converts the fuel that is given by volume.
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
    """Collects errors by the key of their field."""

    errors: dict[str, FieldError] = field(default_factory=dict)

    def add(self, path: KeyPath, what: str, expected: str = "", hint: str = "", *, key: bool = False) -> None:
        """Record an error of a field."""
        del key
        self.errors[str(path[-1])] = FieldError(what, expected, hint)

    def unknown(self, key: str, signals: Mapping[str, Signal]) -> None:
        """Record a key that is not in the trip sheet."""
        keys = [name.removeprefix(TRIP_PREFIX) for name in signals if name.startswith(TRIP_PREFIX)]
        hint = did_you_mean(key[:60], keys)
        self.errors[key[:60]] = FieldError(
            "the trip sheet has no such value", "a value of the trip sheet", hint
        )


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
    """Return the common units in which a value may be given."""
    if is_fuel(signal):
        return "kg, lb, l or gal"
    return ALTERNATIVE_UNITS.get(signal.unit, "" if signal.unit == "1" else signal.unit)
