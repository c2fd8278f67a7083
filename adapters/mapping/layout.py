"""Binds a sender's columns to signals, calls, time and sequence number.

Takes: a plan, the signals, and the names of the columns.  Gives: `Layout`, made once for each tuple of names.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from adapters.decoders.base import RawValue
from adapters.mapping.convert import Converter, ValidityCheck, make_converter, make_validity_check
from adapters.mapping.map_plan import FieldMapping, FieldSource, MapPlan
from rules.signals.model import CALL_PREFIX, Signal


@dataclass(frozen=True, slots=True)
class GuardedSignal:
    """A signal whose value is used only while another column allows it; -1 is a column that is not sent."""

    signal: str
    column: int
    convert: Converter
    validity_column: int
    is_valid: ValidityCheck


@dataclass(slots=True)
class Layout:
    """Signals, calls and header values of each column, with the values of the last record used.

    Attributes:
        names: The columns' names.
        plain: For each column its signals, each with its converter.
        guarded: By column, the signals whose value or validity the column is.
        calls: By column, the call whose time the column is.
        signals: Every signal that this layout feeds.
        unknown: Named columns that feed nothing.
        missing: Sources that the map names and the sender does not send.
        time: The column of the simulator's clock; -1 where there is none.
        number: The column of the sequence number; -1 where there is none.
        paused: The column of the pause; -1 where there is none.
        last_values: The raw values of the last record used; empty before the first.
    """

    names: tuple[str, ...]
    plain: list[tuple[tuple[str, Converter], ...]]
    guarded: dict[int, tuple[GuardedSignal, ...]]
    calls: dict[int, str]
    signals: tuple[str, ...]
    unknown: tuple[str, ...]
    missing: tuple[str, ...]
    time: int
    number: int
    paused: int
    last_values: list[RawValue] = field(default_factory=list)


class LayoutBinder:
    """Makes layouts; keeps the converters, which do not depend on the columns."""

    def __init__(self, plan: MapPlan, signals: Mapping[str, Signal]) -> None:
        """Prepare the converter of each bound signal.

        Raises:
            UnitFault: A field's unit does not convert to its signal's.
            KeyError: The plan binds a signal that is not in `signals`.
        """
        self._plan = plan
        self._signals = signals
        self._converters = {
            bound.signal: make_converter(signals[bound.signal], bound) for bound in plan.fields
        }
        self._same_name_converters: dict[str, Converter] = {}

    def bind(self, names: tuple[str, ...]) -> Layout:
        """Make the layout of one tuple of column names."""
        column_of = {name: column for column, name in enumerate(names) if name}
        binding = _Binding([[] for _ in names], column_of)
        for bound in self._plan.fields:
            self._bind_field(bound, binding)
        for call, source in self._plan.calls:
            binding.bind_call(call, binding.column(source))
        used = self._header_columns(binding)
        self._bind_same_names(names, binding)
        fed = {*binding.guarded, *binding.calls, *used}
        unknown = tuple(
            name
            for column, name in enumerate(names)
            if name and not binding.plain[column] and column not in fed
        )
        return Layout(
            names,
            [tuple(pairs) for pairs in binding.plain],
            {column: tuple(bounds) for column, bounds in binding.guarded.items()},
            binding.calls,
            tuple(binding.signals),
            unknown,
            tuple(binding.missing),
            *used,
        )

    def _bind_field(self, bound: FieldMapping, binding: _Binding) -> None:
        """Bind one field of the map."""
        column = binding.column(bound.source)
        if column < 0:
            return
        read = self._converters[bound.signal]
        binding.signals.append(bound.signal)
        if bound.validity is None:
            binding.plain[column].append((bound.signal, read))
            return
        guard = binding.column(bound.validity.source)
        guarded = GuardedSignal(bound.signal, column, read, guard, make_validity_check(bound.validity))
        for touching in {column, guard} - {-1}:
            binding.guarded.setdefault(touching, []).append(guarded)

    def _bind_same_names(self, names: tuple[str, ...], binding: _Binding) -> None:
        """Bind the columns that have the name of a signal or a call."""
        for column, name in enumerate(names):
            if name.startswith(CALL_PREFIX):
                binding.bind_call(name[len(CALL_PREFIX) :], column)
            elif self._plan.same_names and name in self._signals and name not in self._converters:
                binding.plain[column].append((name, self._same_name_converter(name)))
                binding.signals.append(name)

    def _same_name_converter(self, name: str) -> Converter:
        """Give the converter of a field that has the signal's own name."""
        if name not in self._same_name_converters:
            self._same_name_converters[name] = make_converter(
                self._signals[name], FieldMapping(name, FieldSource(name))
            )
        return self._same_name_converters[name]

    def _header_columns(self, binding: _Binding) -> tuple[int, int, int]:
        """Find the columns of time, number and pause; -1 where there is none."""
        time, number = (
            next((column for source in sources if (column := binding.column(source, quiet=True)) >= 0), -1)
            for sources in (self._plan.time, self._plan.sequence)
        )
        return time, number, binding.column(self._plan.paused) if self._plan.paused else -1


@dataclass(slots=True)
class _Binding:
    """A layout under construction."""

    plain: list[list[tuple[str, Converter]]]
    column_of: dict[str, int]
    guarded: dict[int, list[GuardedSignal]] = field(default_factory=dict)
    calls: dict[int, str] = field(default_factory=dict)
    signals: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)

    def column(self, source: FieldSource, *, quiet: bool = False) -> int:
        """Find the column of a source; for one that is not sent give -1, and note it unless `quiet`."""
        column = self.column_of.get(source.name, -1) if source.name else source.position - 1
        if 0 <= column < len(self.plain):
            return column
        if not quiet:
            self.missing.append(str(source))
        return -1

    def bind_call(self, call: str, column: int) -> None:
        """Bind a column that contains the time of a call."""
        if column >= 0:
            self.calls[column] = call
