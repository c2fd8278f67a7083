"""Traces of a pack, checked and bounded.

Takes: the validated pack, its references and conditions.  Gives: the frozen types of `model`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain

from rules.faults import Fault
from rules.language.scope import PackLimit, Scope
from rules.language.traversal import signal_names
from rules.packs.conditions import ConditionChecker
from rules.packs.model import TraceLimit, TraceMark, TraceRule, Watch, declared_id
from rules.packs.quantities import Quantity
from rules.packs.references import References
from rules.packs.schema import TraceForm, TraceLimitForm
from rules.packs.sourced import SourceLocation, entry_from_mapping
from rules.packs.validated import FilledForm, ValidatedPack
from rules.signals import units
from rules.signals.model import Signal
from rules.source import unknown_word

MAX_TRACE_VALUES = 200_000
"""Largest number of values in a trace (20 signals, ten times a second, for about a quarter of an hour); more is a mistake."""


def build_traces(
    validated: ValidatedPack,
    references: References,
    conditions: ConditionChecker,
    scope: Scope,
    watches: Sequence[Watch],
    faults: list[Fault],
) -> tuple[TraceRule, ...]:
    """Build all traces of a pack.

    Args:
        validated: The validated pack.
        references: Lookup of names.
        conditions: Checker of conditions.
        scope: Names of the pack.
        watches: Watches of the pack.
        faults: List to which faults are added.
    """
    builder = _TraceBuilder(validated, references, conditions, scope, watches, faults)
    return tuple(builder.build(name, filled) for name, filled in validated.traces.items())


class _TraceBuilder:
    """Builds the traces one by one."""

    def __init__(
        self,
        validated: ValidatedPack,
        references: References,
        conditions: ConditionChecker,
        scope: Scope,
        watches: Sequence[Watch],
        faults: list[Fault],
    ) -> None:
        self._validated = validated
        self._references = references
        self._conditions = conditions
        self._scope = scope
        self._watches = watches
        self._faults = faults

    def build(self, name: str, filled: FilledForm[TraceForm]) -> TraceRule:
        """Build one trace; its invalid parts are reported and left out."""
        form, entry = filled.form, filled.entry
        begins, ends = self._conditions.condition(entry, "begins"), self._conditions.condition(entry, "ends")
        if begins is None or ends is None:
            raise AssertionError("a trace's form holds both conditions")
        if begins == ends:
            self._add_fault(
                entry.field_location("ends"), "begin and end conditions are the same", "another condition"
            )
        signals = self._signals(form.signals, entry.field_location("signals"))
        self._check_size(filled)
        return TraceRule(
            f"trace.{name}",
            form.title,
            begins,
            ends,
            signals,
            form.every,
            form.longest,
            tuple(self._limits(filled)),
            tuple(self._marks(filled)),
            self._evidence_for(filled, signals),
        )

    def _signals(self, names: list[str], location: SourceLocation) -> tuple[str, ...]:
        """Signals that are recorded, each once."""
        known = self._references.known_names(names, self._scope.signals, location, "signal")
        for number, name in enumerate(names):
            if name in names[:number]:
                self._add_fault(location.child(number), f"{name} is listed twice", "each signal once")
        return known

    def _check_size(self, filled: FilledForm[TraceForm]) -> None:
        """Check the sampling interval, the maximum duration and the number of values."""
        form, entry = filled.form, filled.entry
        if form.every <= 0.0:
            self._add_fault(entry.field_location("every"), "sampling interval is 0 s", "more than 0 s")
        elif form.longest < form.every:
            self._add_fault(
                entry.field_location("longest"),
                "maximum duration is shorter than the sampling interval",
                "a longer time",
            )
        elif form.longest / form.every * len(form.signals) > MAX_TRACE_VALUES:
            what = f"{round(form.longest / form.every)} samples of {len(form.signals)} signals"
            hint = "a shorter longest, or a longer every"
            self._add_fault(
                entry.field_location("longest"), what, f"at most {MAX_TRACE_VALUES} values in a trace", hint
            )

    def _limits(self, filled: FilledForm[TraceForm]) -> Iterator[TraceLimit]:
        """Limits to draw, each in its signal's unit."""
        location = filled.entry.field_location("limits")
        for number, form in enumerate(filled.form.limits):
            at = location.child(number)
            if self._references.is_known(
                form.signal, filled.form.signals, at.child("signal"), "signal of the trace"
            ):
                limit = self._limit(form, at.child("limit"))
                signal = self._scope.signals.get(form.signal)
                if limit is not None and signal is not None:
                    yield from self._in_unit(form, signal, limit, at.child("limit"))

    def _limit(self, form: TraceLimitForm, location: SourceLocation) -> PackLimit | None:
        """Limit of the pack, or a number with its unit."""
        if isinstance(form.limit, Quantity):
            return PackLimit(*form.limit, "")
        if form.limit not in self._scope.limits and form.limit not in self._validated.ids("limits"):
            expected = "the name of a limit, or a number with its unit"
            self._add_fault(location, *unknown_word("limit", form.limit, self._scope.limits, expected))
        return self._scope.limits.get(form.limit)

    def _in_unit(
        self, form: TraceLimitForm, signal: Signal, limit: PackLimit, location: SourceLocation
    ) -> Iterator[TraceLimit]:
        """Limit in the signal's unit; a limit that does not convert is a fault."""
        unit, own = limit.unit or "1", signal.unit or "1"
        if not signal.is_numeric:
            self._add_fault(
                location, f"{signal.name} is not a number", "the limit of a signal that is a number"
            )
        elif not units.compatible(unit, own):
            self._add_fault(location, f"{unit} does not convert to {own}", f"a unit such as {own}")
        else:
            label = form.label or limit.label or f"limit of {signal.label}"
            yield TraceLimit(signal.name, units.convert(limit.value, unit, own), label)

    def _marks(self, filled: FilledForm[TraceForm]) -> Iterator[TraceMark]:
        """Moments to mark; a faulty condition stays with its fault."""
        location = filled.entry.field_location("marks")
        for number, form in enumerate(filled.form.marks):
            when = self._conditions.condition(entry_from_mapping(form.label, location.child(number)), "when")
            if when is None:
                raise AssertionError("a mark's form holds its condition")
            yield TraceMark(form.label, when)

    def _evidence_for(self, filled: FilledForm[TraceForm], signals: tuple[str, ...]) -> frozenset[str]:
        """Watches and items that are named, otherwise the watches that read a recorded signal."""
        form, entry = filled.form, filled.entry
        if "evidence_for" in entry.fields:
            watches = [f"watch.{name}" for name in self._validated.ids("watches")]
            rules = [watch.id for watch in self._watches]
            among = dict.fromkeys([*watches, *rules, *self._references.item_ids])
            named = self._references.known_names(
                form.evidence_for, among, entry.field_location("evidence_for"), "watch or item"
            )
            matches = [rule for rule in rules if rule in named or declared_id(rule) in named]
            return frozenset(chain(matches, *map(self._references.matches_of, named)))
        return frozenset(w.id for w in self._watches if not set(signals).isdisjoint(signal_names(w.expect)))

    def _add_fault(self, location: SourceLocation, what: str, expected: str = "", hint: str = "") -> None:
        """Add a fault at a value."""
        self._faults.append(Fault(location.place(), what, expected, hint))
