"""Figures: numbers that a pack computes from signals, trip values, limits and other figures, as signals of their own.

    figures:
      minimum_v2:
        {label: "minimum V2 at {figure.takeoff_mass}", uses: minimum_v2, with: {stall: figure.stall}, unit: kt}

Takes: the forms of `figures:` and `tables:`, and the names of the pack.  Gives: `Figure`, each after those that it
reads.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from rules.faults import Fault
from rules.language import checked_tree
from rules.language.scope import Scope
from rules.packs.figure_functions import FIGURE_FUNCTIONS, FigureFunction
from rules.packs.figure_tables import build_table
from rules.packs.figure_terms import FigureTermChecker
from rules.packs.model import Figure
from rules.packs.references import cycles
from rules.packs.schema import FigureForm
from rules.packs.sourced import SourceLocation
from rules.packs.validated import FilledForm, ValidatedPack
from rules.signals import units
from rules.signals.equality import FULL_CIRCLE_DEG
from rules.signals.model import FIGURE_PREFIX, Signal, SignalKind
from rules.source import did_you_mean, unknown_fault, unknown_word
from rules.words import join_and, join_or

PLACEHOLDER = re.compile(r"\{([^{}]*)\}")
# Wide enough for any quantity of an aeroplane in any unit.
_MAX_MAGNITUDE = 1e9


class FigureBuilder:
    """Builds the figures of one pack and collects their faults."""

    def __init__(self, validated: ValidatedPack, faults: list[Fault]) -> None:
        """Build the tables, since figures use them."""
        self._validated = validated
        self._faults = faults
        tables = (build_table(name, filled, faults) for name, filled in validated.tables.items())
        self._functions = FIGURE_FUNCTIONS | {table.name: table for table in tables if table is not None}
        self._broken = {f"table.{name}" for name in validated.ids("tables")} - self._functions.keys()
        self._signals: dict[str, Signal] = {}

    def signals(self, known: Mapping[str, Signal]) -> dict[str, Signal]:
        """Signals of the figures, by name; `known` are the signals that labels may name."""
        for name, filled in self._validated.figures.items():
            signal = self._signal(name, filled)
            if signal is not None:
                self._signals[signal.name] = signal
        every = {**known, **self._signals}
        for name, signal in self._signals.items():
            location = self._validated.figures[name.removeprefix(FIGURE_PREFIX)].entry.field_location("label")
            self._signals[name] = replace(
                signal, label=self._label_without_placeholders(signal.label, location, every)
            )
        return dict(self._signals)

    def build(self, scope: Scope) -> tuple[Figure, ...]:
        """Build all figures, each after those that it reads.

        Args:
            scope: All names of the pack, those of figures included.
        """
        figures = {}
        for name, signal in self._signals.items():
            filled = self._validated.figures[name.removeprefix(FIGURE_PREFIX)]
            figure = self._figure(signal, filled, self._functions[filled.form.uses], scope)
            if figure is not None:
                figures[name] = figure
        return self._sorted_by_dependency(figures)

    def _signal(self, name: str, filled: FilledForm[FigureForm]) -> Signal | None:
        """Signal of a figure; None where its function is unknown or its unit does not convert."""
        form, entry = filled.form, filled.entry
        function = self._functions.get(form.uses)
        if function is None:
            if form.uses not in self._broken:
                expected = "a function of the arithmetic, or table.NAME"
                self._add_fault(
                    entry.field_location("uses"),
                    *unknown_word("function", form.uses, self._functions, expected),
                )
            return None
        if not units.compatible(form.unit, function.unit):
            self._add_fault(
                entry.field_location("unit"),
                f"{form.uses} is in {function.unit}, not {form.unit}",
                f"a unit such as {function.unit}",
            )
            return None
        kind = SignalKind.ANGLE if function.is_direction else SignalKind.QUANTITY
        low, high = (0.0, FULL_CIRCLE_DEG) if function.is_direction else (-_MAX_MAGNITUDE, _MAX_MAGNITUDE)
        meaning = form.why or f"Worked out by {form.uses}"
        return Signal(
            f"{FIGURE_PREFIX}{name}",
            kind,
            0,
            form.label,
            meaning,
            form.unit,
            low,
            high,
            max_age_s=0.0,
            shown_step=self._shown_step(filled),
            sides=tuple(form.sides or ()),
        )

    def _label_without_placeholders(
        self, label: str, location: SourceLocation, known: Mapping[str, Signal]
    ) -> str:
        """Label with each placeholder replaced by the label of its signal."""
        for place in PLACEHOLDER.finditer(label):
            if place[1] not in known:
                at = location.character_place(place.start(1))
                self._faults.append(unknown_fault(at, "signal", place[1], known, "a signal"))
        return PLACEHOLDER.sub(lambda place: known[place[1]].label if place[1] in known else "?", label)

    def _figure(
        self, signal: Signal, filled: FilledForm[FigureForm], function: FigureFunction, scope: Scope
    ) -> Figure | None:
        """Build one figure with its terms checked."""
        form, entry = filled.form, filled.entry
        before = len(self._faults)
        location = entry.field_location("with")
        self._check_parameters(form, function, location)
        terms, words = dict[str, checked_tree.Term](), dict[str, Signal]()
        for name, text in form.terms.items():
            parameter = function.parameters.get(name)
            if parameter is None:
                continue
            found = FigureTermChecker(self._faults, location.child(name), scope).check(text, parameter)
            if isinstance(found, Signal):
                words[parameter.keyword] = found
            elif found is not None:
                terms[parameter.keyword] = found
        if len(self._faults) > before:
            return None
        factor, offset = units.linear_conversion(function.unit, form.unit)
        return Figure(
            signal,
            function.function,
            terms,
            words,
            factor,
            offset,
            form.label,
            _explanation_with_keywords(function),
            function.name,
        )

    def _shown_step(self, filled: FilledForm[FigureForm]) -> float:
        """Step to which texts round the result, in the figure's unit; 0 for no rounding."""
        form, rounded = filled.form, filled.form.rounded
        if rounded is None:
            return 0.0
        if not units.compatible(rounded.unit, form.unit) or rounded.value <= 0.0:
            self._add_fault(
                filled.entry.field_location("rounded"),
                "a figure cannot be rounded to this",
                f"such as 10 {form.unit}",
            )
            return 0.0
        return units.convert(rounded.value, rounded.unit, form.unit, delta=True)

    def _check_parameters(self, form: FigureForm, function: FigureFunction, location: SourceLocation) -> None:
        """Report parameters that are missing, or that the function does not have."""
        for name in form.terms:
            if name not in function.parameters:
                listed = join_or(function.parameters)
                hint = did_you_mean(name, function.parameters)
                self._faults.append(
                    Fault(
                        location.child(name).place(key=True),
                        f"{function.name} does not take {name}",
                        listed,
                        hint,
                    )
                )
        missing = [n for n, p in function.parameters.items() if p.required and n not in form.terms]
        if missing:
            self._faults.append(
                Fault(
                    location.place(key=True),
                    f"{function.name} needs {join_and(missing)}",
                )
            )

    def _sorted_by_dependency(self, figures: dict[str, Figure]) -> tuple[Figure, ...]:
        """Sort figures so that each comes after those that it reads; a circular reference is a fault."""
        reads = {name: [r for r in figure.input_signals if r in figures] for name, figure in figures.items()}
        for path in cycles(reads):
            location = self._validated.figures[path[0].removeprefix(FIGURE_PREFIX)].entry.location
            what = f"circular reference of figures: {' reads '.join(path)}"
            self._faults.append(Fault(location.place(key=True), what, "no circle"))
        ordered: dict[str, Figure] = {}

        def put(name: str, above: tuple[str, ...]) -> None:
            if name not in ordered and name not in above:
                for read in reads[name]:
                    put(read, (*above, name))
                ordered[name] = figures[name]

        for name in figures:
            put(name, ())
        return tuple(ordered.values())

    def _add_fault(self, location: SourceLocation, what: str, expected: str = "", hint: str = "") -> None:
        """Add a fault at a value."""
        self._faults.append(Fault(location.place(), what, expected, hint))


def _explanation_with_keywords(function: FigureFunction) -> str:
    """Explanation with Python's keywords in the braces."""
    return PLACEHOLDER.sub(lambda place: f"{{{function.parameters[place[1]].keyword}}}", function.explanation)
