"""Checks the signals, words, units and types of a map file, and makes its plan.

Takes: forms, their source, the signals.  Gives: a plan, and faults.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from adapters.decoders.struct_layout import (
    HEADER_PARTS,
    INTEGER_TYPES,
    Endian,
    StructField,
    StructLayout,
    struct_code,
)
from adapters.mapping.map_form import ClockForm, FieldForm, MapForm, SourceForm, StructForm, ValidityForm
from adapters.mapping.map_plan import (
    NUMBER_NAMES,
    TIME_NAMES,
    FieldMapping,
    FieldSource,
    MapPlan,
    Threshold,
    ValidityRule,
    ValueRange,
)
from rules.faults import Fault
from rules.signals.model import CALL_PREFIX, Signal, SignalKind, Value
from rules.signals.units import UnitFault, linear_conversion, to_seconds
from rules.source import SourceDocument as Document
from rules.source import did_you_mean, unknown_word

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_RANGE = re.compile(rf"({_NUMBER})?\s*\.\.\s*({_NUMBER})?")
_TRUTH_VALUES = {"true": 1.0, "false": 0.0}
_Path = tuple[str | int, ...]


class MapChecker:
    """Makes the plan of a map file and collects its faults."""

    def __init__(self, source: Document, signals: Mapping[str, Signal]) -> None:
        self.faults: list[Fault] = []
        self._source = source
        self._signals = signals

    def build_plan(self, form: MapForm) -> MapPlan:
        """Make the plan of a map; it is incomplete where there are faults."""
        fields = [self._field(name, bound, ("map", "fields", name)) for name, bound in form.fields.items()]
        return MapPlan(
            tuple(field for field in fields if field is not None),
            form.same_names,
            (_field_source(form.time),) if form.time else tuple(FieldSource(name) for name in TIME_NAMES),
            self._seconds(form.time),
            (_field_source(form.sequence),)
            if form.sequence
            else tuple(FieldSource(name) for name in NUMBER_NAMES),
            _field_source(form.paused) if form.paused else None,
            tuple(
                (call.removeprefix(CALL_PREFIX), _field_source(source)) for call, source in form.calls.items()
            ),
        )

    def wrap_s(self, time: ClockForm | None) -> float:
        """Give the seconds after which the clock starts again at 0; 0 means never."""
        return 2.0**time.bits * self._seconds(time) if time is not None and time.bits else 0.0

    def build_struct_layout(self, form: StructForm | None) -> StructLayout | None:
        """Make the layout of a packed record; None where there are faults."""
        if form is None:
            return None
        base: _Path = ("map", "struct")
        heads = [
            self._struct_field(role, kind, -1, (*base, "header", role)) for role, kind in form.header.items()
        ]
        for role in form.header:
            if role not in HEADER_PARTS:
                self._add_fault(
                    (*base, "header", role),
                    f"unknown header part {role}",
                    ", ".join(HEADER_PARTS),
                    key=True,
                )
        masked = "validity" in form.header
        bodies = [
            self._struct_field(
                name, entry.type, _valid_bit(entry.valid_bit, number, masked=masked), (*base, "fields", name)
            )
            for number, (name, entry) in enumerate(form.fields.items())
        ]
        self._header_types(form, base)
        return None if self.faults else StructLayout(
            Endian(form.endian), tuple(heads), tuple(bodies), form.magic.encode(), form.version,
            form.checksum == "crc32", form.length_counts == "whole",
        )  # fmt: skip

    def _header_types(self, form: StructForm, base: _Path) -> None:
        """Check that each part of the header has a type that can represent it."""
        for role, kind in form.header.items():
            fits = {
                "magic": kind == f"text:{len(form.magic.encode())}",
                "validity": kind in INTEGER_TYPES or kind.startswith("bits:"),
                "pad": kind.startswith("pad:"),
                "time": kind in INTEGER_TYPES or kind in ("f32", "f64"),
            }.get(role, kind in INTEGER_TYPES)
            if not fits and role in HEADER_PARTS:
                self._add_fault(
                    (*base, "header", role),
                    f"{role} cannot be of type {kind}",
                    _expected_type(role, form.magic),
                )

    def _struct_field(self, name: str, kind: str, valid_bit: int, path: _Path) -> StructField:
        """Check the type of one entry of a packed record."""
        try:
            struct_code(kind)
        except ValueError as error:
            self._add_fault(path, str(error))
        return StructField(name, kind, valid_bit)

    def _field(self, name: str, form: FieldForm, path: _Path) -> FieldMapping | None:
        """Check one field and make its mapping; None for an unknown signal."""
        signal = self._signals.get(name)
        if signal is None:
            self._add_fault(
                path, *unknown_word("signal", name, self._signals, "a signal of the book"), key=True
            )
            return None
        self._check_unit(signal, form, path)
        if form.invert and signal.kind is not SignalKind.SWITCH:
            self._add_fault(
                (*path, "invert"), f"{name} is a {signal.kind}", "a switch, whose two words can be exchanged"
            )
        if not signal.is_numeric and not form.threshold and (form.scale != 1.0 or form.offset != 0.0):
            self._add_fault(
                path, f"{name} is a {signal.kind}; scale and offset are for numbers", "words or threshold"
            )
        words, ranges = self._words(signal, form, (*path, "words"))
        return FieldMapping(
            name, _field_source(form), form.scale, form.offset, form.unit, words, ranges, form.invert,
            self._threshold(signal, form, (*path, "threshold")), _validity(form.valid),
        )  # fmt: skip

    def _check_unit(self, signal: Signal, form: FieldForm, path: _Path) -> None:
        """Check that the field's unit converts to the signal's."""
        if not form.unit:
            return
        if not signal.unit:
            self._add_fault(
                (*path, "unit"), f"{signal.name} is a {signal.kind} and has no unit", "no unit here"
            )
            return
        try:
            linear_conversion(form.unit, signal.unit)
        except UnitFault as fault:
            self._add_fault((*path, "unit"), fault.what, f"a unit that converts to {signal.unit}", fault.hint)

    def _words(
        self, signal: Signal, form: FieldForm, path: _Path
    ) -> tuple[tuple[tuple[float | str, Value], ...], tuple[ValueRange, ...]]:
        """Check the table of raw words, numbers and ranges."""
        words: list[tuple[float | str, Value]] = []
        ranges: list[ValueRange] = []
        for key, given in form.words.items():
            value = self._value(signal, given, (*path, key))
            match = _RANGE.fullmatch(str(key).strip())
            if match and (match[1] or match[2]):
                low, high = float(match[1] or -math.inf), float(match[2] or math.inf)
                if low > high:
                    self._add_fault(
                        (*path, key), f"the range {key} is empty", "the lower end first", key=True
                    )
                ranges.append(ValueRange(low, high, value))
                continue
            words += [(raw, value) for raw in _raw_keys(key)]
        return tuple(words), tuple(ranges)

    def _value(self, signal: Signal, given: str | float, path: _Path) -> Value:
        """Check that the signal can have a value."""
        if signal.is_numeric:
            if isinstance(given, str) or not signal.low <= given <= signal.high:
                self._add_fault(
                    path,
                    f"{signal.name} cannot be '{given}'",
                    f"a number from {signal.low:g} to {signal.high:g}",
                )
            return 0.0 if isinstance(given, str) else float(given)
        word = given if isinstance(given, str) else f"{given:g}"
        if signal.words and word not in signal.words:
            hint = did_you_mean(word, signal.words)
            self._add_fault(path, f"{signal.name} cannot be '{word}'", " or ".join(signal.words), hint)
        return word

    def _threshold(self, signal: Signal, form: FieldForm, path: _Path) -> Threshold | None:
        """Check the words of a threshold."""
        rule = form.threshold
        if rule is None:
            return None
        if signal.is_numeric:
            self._add_fault(path, f"{signal.name} is a number", "a threshold gives words: a switch or choice")
            return None
        self._value(signal, rule.then, (*path, "then"))
        self._value(signal, rule.otherwise, (*path, "else"))
        return Threshold(rule.at_least, rule.then, rule.otherwise)

    def _seconds(self, time: ClockForm | None) -> float:
        """Give the seconds in one unit of the source time."""
        try:
            return to_seconds(1.0, time.unit) if time is not None else 1.0
        except UnitFault as fault:
            if not any(known.place == self._source.place(("map", "time", "unit")) for known in self.faults):
                self._add_fault(("map", "time", "unit"), fault.what, "a unit of time", fault.hint)
            return 1.0

    def _add_fault(
        self, path: _Path, what: str, expected: str = "", hint: str = "", *, key: bool = False
    ) -> None:
        """Add one fault at its place in the file."""
        self.faults.append(Fault(self._source.place(path, key=key), what, expected, hint))


def _field_source(form: SourceForm) -> FieldSource:
    """Convert the form of a source."""
    return FieldSource(form.name, form.position or 0, form.bit)


def _validity(form: ValidityForm | None) -> ValidityRule | None:
    """Convert the form of a validity rule."""
    if form is None:
        return None
    given = form.accepted if isinstance(form.accepted, list) else [form.accepted]
    accepted = frozenset(each if isinstance(each, str) else float(each) for each in given)
    return ValidityRule(_field_source(form), accepted, form.invert)


def _raw_keys(key: str | int) -> list[float | str]:
    """Give the raw values that a key of `words` matches: a word, a number, or a truth value as 0 or 1."""
    text = str(key).strip()
    if re.fullmatch(_NUMBER, text):
        return [float(text), text]
    return [text, _TRUTH_VALUES[text]] if text in _TRUTH_VALUES else [text]


def _valid_bit(given: int | None, number: int, *, masked: bool) -> int:
    """Give the validity bit of a field: the given one, or its position; -1 without a mask."""
    return (number if given is None else given) if masked else -1


def _expected_type(role: str, magic: str) -> str:
    """Describe the types that a part of the header may have."""
    return {
        "magic": f"text:{len(magic.encode())}, as long as the magic",
        "validity": "a whole number or bits:N",
        "pad": "pad:N",
        "time": "a number",
    }.get(role, "a whole number")
