"""Papers as a form has them: sections, fields, and what was typed into them.

Takes: a rig; texts by field.  Gives: `Section`s; values with what is wrong at which field.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.rig import Rig
from rules.packs.trip import PREFIX
from rules.packs.trip_values import DENSITY, EITHER, Values, is_fuel
from rules.signals.amounts import read_amount
from rules.signals.form import Faults, Path
from rules.signals.model import Kind, Signal, Value
from rules.signals.numbers import say
from rules.source import nearest, source_of

SECTIONS = ("Take-off", "Clearance", "Masses", "Fuel", "Landing", "Other papers")
_CLEARANCE = ("first_heading", "first_altitude", "first_speed", "squawk", "cruise_altitude", "distance")
_MASSES = ("load", "centre_of_gravity")
_LANDING = ("transition_level", "vref", "minimum", "approach_")
_NOWHERE = source_of("{}", "papers.json")
_CLOSE = 1e-9


@dataclass(frozen=True, slots=True)
class Field:
    """One paper: `words` where it is one of these; `units` are those in which it may be given."""

    key: str
    label: str
    meaning: str
    text: str
    words: tuple[str, ...]
    units: str


@dataclass(frozen=True, slots=True)
class Section:
    """Papers that belong together."""

    title: str
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class Wrong:
    """Why a text cannot be a paper."""

    what: str
    expected: str
    hint: str


def sections(rig: Rig) -> tuple[Section, ...]:
    """The papers that hold, by section."""
    held = rig.session.core.papers
    gathered: dict[str, list[Field]] = {title: [] for title in SECTIONS}
    for name, signal in rig.pack.signals.items():
        if name.startswith(PREFIX):
            gathered[section_of(name.removeprefix(PREFIX))].append(_field(signal, held.get(name)))
    return tuple(Section(title, tuple(fields)) for title, fields in gathered.items() if fields)


def section_of(key: str) -> str:
    """Where a paper stands in the form."""
    if key in _CLEARANCE:
        return "Clearance"
    if key.endswith("_mass") or key in _MASSES:
        return "Masses"
    if "fuel" in key:
        return "Fuel"
    if key.startswith(("landing_", *_LANDING)):
        return "Landing"
    return "Take-off"


def written(value: Value | None, signal: Signal) -> str:
    """A value so that it reads back as itself, '' for none."""
    if value is None or isinstance(value, str):
        return value or ""
    if signal.kind is Kind.COUNT:
        return f"{value:04.0f}" if signal.name.endswith("squawk") else f"{value:.0f}"
    text = say(value, signal.unit)
    amount = read_amount(text)
    if amount is not None and abs(amount.value - value) <= _CLOSE * max(1.0, abs(value)):
        return text
    return f"{value:.12g} {signal.unit}".removesuffix(" 1")


def read_papers(
    typed: Mapping[str, str], signals: Mapping[str, Signal], density_kg_l: float | None = None
) -> tuple[dict[str, Value], dict[str, Wrong]]:
    """What was typed, as values.

    Args:
        typed: texts by key ("v1"); one without anything in it is passed over.
        signals: those of the pack.
        density_kg_l: of the papers that hold, for fuel by volume.

    Returns:
        The values by signal name, and what is wrong by key.
    """
    faults = _AtFields(_NOWHERE)
    reader = Values(faults)
    reader.density_kg_l = density_kg_l
    values: dict[str, Value] = {}
    for key, text in sorted(typed.items(), key=lambda one: f"{PREFIX}{one[0]}" != DENSITY):
        signal = signals.get(f"{PREFIX}{key}")
        if signal is None:
            faults.unknown(key, signals)
        elif text.strip() and (value := reader.read((key,), signal, text.strip())) is not None:
            values[signal.name] = value
            if signal.name == DENSITY and isinstance(value, float):
                reader.density_kg_l = value
    return values, faults.wrong


@dataclass(slots=True)
class _AtFields(Faults):
    """Faults by the key of their field."""

    wrong: dict[str, Wrong] = field(default_factory=dict)

    def add(self, path: Path, what: str, expected: str = "", hint: str = "", *, key: bool = False) -> None:
        """Note a fault at a field."""
        del key
        self.wrong[str(path[-1])] = Wrong(what, expected, hint)

    def unknown(self, key: str, signals: Mapping[str, Signal]) -> None:
        """A key that the sheet does not have."""
        keys = [name.removeprefix(PREFIX) for name in signals if name.startswith(PREFIX)]
        near = nearest(key[:60], keys)
        hint = f"did you mean {near}?" if near else ""
        self.wrong[key[:60]] = Wrong("the sheet has no such value", "a value of the trip sheet", hint)


def _field(signal: Signal, value: Value | None) -> Field:
    words = signal.words if signal.kind in (Kind.SWITCH, Kind.CHOICE) else ()
    label = signal.label.removeprefix("sheet ")
    return Field(
        signal.name.removeprefix(PREFIX),
        label,
        signal.meaning,
        written(value, signal),
        words,
        _units(signal),
    )


def _units(signal: Signal) -> str:
    """The units in which a paper may be given, as far as they are usual."""
    if is_fuel(signal):
        return "kg, lb, l or gal"
    return EITHER.get(signal.unit, "" if signal.unit == "1" else signal.unit)
