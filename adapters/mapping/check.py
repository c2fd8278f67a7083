"""Looks up in a map file what its form alone cannot tell: signals, words, units, types.

Takes: forms, their source, the signals.  Gives: a plan, and faults.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from adapters.decoders.table import ROLES, WHOLE, Endian, Entry, Table, code
from adapters.mapping.form import FieldForm, MapForm, SourceForm, StructForm, TimeForm, ValidForm
from adapters.mapping.plan import NUMBER_NAMES, TIME_NAMES, Band, Field, Plan, Source, Threshold, Validity
from rules.faults import Fault
from rules.signals.model import Kind, Signal, Value
from rules.signals.units import UnitFault, linear, seconds
from rules.source import Source as Document
from rules.source import nearest

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_BAND = re.compile(rf"({_NUMBER})?\s*\.\.\s*({_NUMBER})?")
_TRUTH = {"true": 1.0, "false": 0.0}
_Path = tuple[str | int, ...]


class Checker:
    """Collects faults while it makes the plan."""

    def __init__(self, source: Document, signals: Mapping[str, Signal]) -> None:
        """Begin without faults."""
        self.faults: list[Fault] = []
        self._source = source
        self._signals = signals

    def plan(self, form: MapForm) -> Plan:
        """The plan of a map; where there are faults it is not whole."""
        fields = [self._field(name, bound, ("map", "fields", name)) for name, bound in form.fields.items()]
        return Plan(
            tuple(field for field in fields if field is not None),
            form.same_names,
            (_source(form.time),) if form.time else tuple(Source(name) for name in TIME_NAMES),
            self._seconds(form.time),
            (_source(form.sequence),) if form.sequence else tuple(Source(name) for name in NUMBER_NAMES),
            _source(form.paused) if form.paused else None,
            tuple((call.removeprefix("call."), _source(source)) for call, source in form.calls.items()),
        )

    def wrap_s(self, time: TimeForm | None) -> float:
        """After how many seconds the clock begins anew; 0: never."""
        return 2.0**time.bits * self._seconds(time) if time is not None and time.bits else 0.0

    def table(self, form: StructForm | None) -> Table | None:
        """The table of a packed record."""
        if form is None:
            return None
        base: _Path = ("map", "struct")
        heads = [self._entry(role, kind, -1, (*base, "header", role)) for role, kind in form.header.items()]
        for role in form.header:
            if role not in ROLES:
                self._fault(
                    (*base, "header", role), f"unknown part {role} of a header", ", ".join(ROLES), key=True
                )
        masked = "validity" in form.header
        bodies = [
            self._entry(
                name, entry.type, _bit(entry.valid_bit, number, masked=masked), (*base, "fields", name)
            )
            for number, (name, entry) in enumerate(form.fields.items())
        ]
        self._header_types(form, base)
        return None if self.faults else Table(
            Endian(form.endian), tuple(heads), tuple(bodies), form.magic.encode(), form.version,
            form.checksum == "crc32", form.length_counts == "whole",
        )  # fmt: skip

    def _header_types(self, form: StructForm, base: _Path) -> None:
        """Parts of the header that only some types can carry."""
        for role, kind in form.header.items():
            fits = {
                "magic": kind == f"text:{len(form.magic.encode())}",
                "validity": kind in WHOLE or kind.startswith("bits:"),
                "pad": kind.startswith("pad:"),
                "time": kind in WHOLE or kind in ("f32", "f64"),
            }.get(role, kind in WHOLE)
            if not fits and role in ROLES:
                self._fault(
                    (*base, "header", role), f"{role} cannot be of type {kind}", _wanted(role, form.magic)
                )

    def _entry(self, name: str, kind: str, valid_bit: int, path: _Path) -> Entry:
        """One entry of a packed record."""
        try:
            code(kind)
        except ValueError as error:
            self._fault(path, str(error))
        return Entry(name, kind, valid_bit)

    def _field(self, name: str, form: FieldForm, path: _Path) -> Field | None:
        """One bound signal."""
        signal = self._signals.get(name)
        if signal is None:
            near = nearest(name, self._signals)
            hint = f"did you mean {near}?" if near else ""
            self._fault(path, f"unknown signal {name}", "a signal of the book", hint, key=True)
            return None
        self._check_unit(signal, form, path)
        if form.invert and signal.kind is not Kind.SWITCH:
            self._fault(
                (*path, "invert"), f"{name} is a {signal.kind}", "a switch, which has two words to swap"
            )
        if not signal.numeric and not form.threshold and (form.scale != 1.0 or form.offset != 0.0):
            self._fault(
                path, f"{name} is a {signal.kind}; scale and offset are for numbers", "words or threshold"
            )
        words, bands = self._words(signal, form, (*path, "words"))
        return Field(
            name, _source(form), form.scale, form.offset, form.unit, words, bands, form.invert,
            self._threshold(signal, form, (*path, "threshold")), _validity(form.valid),
        )  # fmt: skip

    def _check_unit(self, signal: Signal, form: FieldForm, path: _Path) -> None:
        """The raw unit converts to the signal's."""
        if not form.unit:
            return
        if not signal.unit:
            self._fault((*path, "unit"), f"{signal.name} is a {signal.kind} and has no unit", "no unit here")
            return
        try:
            linear(form.unit, signal.unit)
        except UnitFault as fault:
            self._fault((*path, "unit"), fault.what, f"a unit that converts to {signal.unit}", fault.hint)

    def _words(
        self, signal: Signal, form: FieldForm, path: _Path
    ) -> tuple[tuple[tuple[float | str, Value], ...], tuple[Band, ...]]:
        """The table of raw words and numbers."""
        words: list[tuple[float | str, Value]] = []
        bands: list[Band] = []
        for key, said in form.words.items():
            value = self._value(signal, said, (*path, key))
            band = _BAND.fullmatch(str(key).strip())
            if band and (band[1] or band[2]):
                low, high = float(band[1] or -math.inf), float(band[2] or math.inf)
                if low > high:
                    self._fault((*path, key), f"the range {key} is empty", "the smaller end first", key=True)
                bands.append(Band(low, high, value))
                continue
            words += [(raw, value) for raw in _raws(key)]
        return tuple(words), tuple(bands)

    def _value(self, signal: Signal, said: str | float, path: _Path) -> Value:
        """A value that the signal can have."""
        if signal.numeric:
            if isinstance(said, str) or not signal.low <= said <= signal.high:
                self._fault(
                    path,
                    f"{signal.name} cannot be '{said}'",
                    f"a number from {signal.low:g} to {signal.high:g}",
                )
            return 0.0 if isinstance(said, str) else float(said)
        word = said if isinstance(said, str) else f"{said:g}"
        if signal.words and word not in signal.words:
            near = nearest(word, signal.words)
            hint = f"did you mean {near}?" if near else ""
            self._fault(path, f"{signal.name} cannot be '{word}'", " or ".join(signal.words), hint)
        return word

    def _threshold(self, signal: Signal, form: FieldForm, path: _Path) -> Threshold | None:
        """A threshold, its words checked."""
        rule = form.threshold
        if rule is None:
            return None
        if signal.numeric:
            self._fault(path, f"{signal.name} is a number", "a threshold gives words: a switch or choice")
            return None
        self._value(signal, rule.then, (*path, "then"))
        self._value(signal, rule.otherwise, (*path, "else"))
        return Threshold(rule.at_least, rule.then, rule.otherwise)

    def _seconds(self, time: TimeForm | None) -> float:
        """Seconds in one unit of the source time."""
        try:
            return seconds(1.0, time.unit) if time is not None else 1.0
        except UnitFault as fault:
            if not any(known.place == self._source.place(("map", "time", "unit")) for known in self.faults):
                self._fault(("map", "time", "unit"), fault.what, "a unit of time", fault.hint)
            return 1.0

    def _fault(
        self, path: _Path, what: str, expected: str = "", hint: str = "", *, key: bool = False
    ) -> None:
        """Note one fault."""
        self.faults.append(Fault(self._source.place(path, key=key), what, expected, hint))


def _source(form: SourceForm) -> Source:
    """Where a value stands."""
    return Source(form.name, form.position or 0, form.bit)


def _validity(form: ValidForm | None) -> Validity | None:
    """The rule of another field."""
    if form is None:
        return None
    said = form.accepted if isinstance(form.accepted, list) else [form.accepted]
    return Validity(
        _source(form), frozenset(float(s) if not isinstance(s, str) else s for s in said), form.invert
    )


def _raws(key: str | int) -> list[float | str]:
    """What a key of `words` stands for: a number, a word, or a truth value, which may come as 0 and 1."""
    text = str(key).strip()
    if re.fullmatch(_NUMBER, text):
        return [float(text), text]
    return [text, _TRUTH[text]] if text in _TRUTH else [text]


def _bit(said: int | None, number: int, *, masked: bool) -> int:
    """The validity bit of a field: as said, else by its place; -1 without a mask."""
    return (number if said is None else said) if masked else -1


def _wanted(role: str, magic: str) -> str:
    """Which types a part of the header may have."""
    return {
        "magic": f"text:{len(magic.encode())}, as long as the magic",
        "validity": "a whole number or bits:N",
        "pad": "pad:N",
        "time": "a number",
    }.get(role, "a whole number")
