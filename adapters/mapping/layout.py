"""A sender's layout bound to signals: for each column what it feeds.

Takes: a plan, the signals, and the names of the columns.  Gives: `Layout`, made once for each set of names.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from operator import itemgetter

from adapters.decoders.base import RawValue
from adapters.mapping.convert import Converter, ValidityCheck, make_converter, make_validity_check
from adapters.mapping.map_plan import CALL_PREFIX, FieldMapping, FieldSource, MapPlan
from rules.signals.model import Signal


@dataclass(frozen=True, slots=True)
class GuardedSignal:
    """A signal whose value another column allows; -1 where that column is not sent, so that it never does."""

    signal: str
    column: int
    convert: Converter
    validity_column: int
    is_valid: ValidityCheck


@dataclass(slots=True)
class Layout:
    """What each column feeds, and the values that it had when it was last used.

    Attributes:
        names: The columns' names.
        plain: For each column its signals, each with how it is read.
        guarded: For each column the signals whose value or validity it is.
        calls: For a column, the call that it tells.
        carried: Every signal that this layout has a say on.
        unknown: Named columns that feed nothing.
        absent: Sources that the map names and the sender does not send.
        last: The raw values of the last record used; empty: none.
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
    """Makes layouts; holds what does not depend on the columns."""

    def __init__(self, plan: MapPlan, signals: Mapping[str, Signal]) -> None:
        """Prepare how each bound signal is read.

        Raises:
            UnitFault: A field's unit does not convert to its signal's.
            KeyError: The plan binds a signal that is not among these.
        """
        self._plan = plan
        self._signals = signals
        self._converters = {
            bound.signal: make_converter(signals[bound.signal], bound) for bound in plan.fields
        }
        self._same_name_converters: dict[str, Converter] = {}

    def bind(self, names: tuple[str, ...]) -> Layout:
        """Bind one set of columns."""
        where = {name: column for column, name in enumerate(names) if name}
        found = _Binding([[] for _ in names], where)
        for bound in self._plan.fields:
            self._bind_field(bound, found)
        for call, source in self._plan.calls:
            found.bind_call(call, found.column(source))
        used = self._header_columns(found)
        self._bind_same_names(names, found)
        unknown = tuple(
            name for column, name in enumerate(names)
            if name and not found.plain[column] and column not in found.guarded and column not in {*found.calls, *used}
        )  # fmt: skip
        return Layout(
            names,
            [tuple(pairs) for pairs in found.plain],
            {column: tuple(bounds) for column, bounds in found.guarded.items()},
            found.calls,
            tuple(found.signals),
            unknown,
            tuple(found.missing),
            *used,
        )

    def _bind_field(self, bound: FieldMapping, found: _Binding) -> None:
        """One field of the map."""
        column = found.column(bound.source)
        if column < 0:
            return
        read = self._converters[bound.signal]
        found.signals.append(bound.signal)
        if bound.validity is None:
            found.plain[column].append((bound.signal, read))
            return
        guard = found.column(bound.validity.source)
        guarded = GuardedSignal(bound.signal, column, read, guard, make_validity_check(bound.validity))
        for touching in {column, guard} - {-1}:
            found.guarded.setdefault(touching, []).append(guarded)

    def _bind_same_names(self, names: tuple[str, ...], found: _Binding) -> None:
        """Columns that bear a signal's or a call's name themselves."""
        for column, name in enumerate(names):
            if name.startswith(CALL_PREFIX):
                found.bind_call(name[len(CALL_PREFIX) :], column)
            elif self._plan.same_names and name in self._signals and name not in self._converters:
                found.plain[column].append((name, self._same_name_converter(name)))
                found.signals.append(name)

    def _same_name_converter(self, name: str) -> Converter:
        """How a signal is read from a field of its own name."""
        if name not in self._same_name_converters:
            self._same_name_converters[name] = make_converter(
                self._signals[name], FieldMapping(name, FieldSource(name))
            )
        return self._same_name_converters[name]

    def _header_columns(self, found: _Binding) -> tuple[int, int, int]:
        """The columns of time, number and pause; -1 for none."""
        time, number = (
            next((column for source in sources if (column := found.column(source, quiet=True)) >= 0), -1)
            for sources in (self._plan.time, self._plan.sequence)
        )
        return time, number, found.column(self._plan.paused) if self._plan.paused else -1


@dataclass(slots=True)
class _Binding:
    """What is known of a layout while it is bound."""

    plain: list[list[tuple[str, Converter]]]
    column_of: dict[str, int]
    guarded: dict[int, list[GuardedSignal]] = field(default_factory=dict)
    calls: dict[int, str] = field(default_factory=dict)
    signals: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)

    def column(self, source: FieldSource, *, quiet: bool = False) -> int:
        """The column of a source, -1 where it is not sent, which is noted unless `quiet`."""
        column = self.column_of.get(source.name, -1) if source.name else source.position - 1
        if 0 <= column < len(self.plain):
            return column
        if not quiet:
            self.missing.append(str(source))
        return -1

    def bind_call(self, call: str, column: int) -> None:
        """A column that tells a call."""
        if column >= 0:
            self.calls[column] = call


by_time = itemgetter(0)
