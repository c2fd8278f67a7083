"""Checker for the terms of a figure, which converts them to the units of its function.

Takes: terms as text, the names of the pack.  Gives: checked terms, or the signal of a word.
"""

from __future__ import annotations

from rules.faults import Fault
from rules.language import checked_tree, syntax
from rules.language.check.context import CheckContext
from rules.language.check.terms import check_term
from rules.language.check.units import MeasuredTerm, Nature, in_unit
from rules.language.parser import ParseError, parse_term
from rules.language.scope import Scope
from rules.language.traversal import inner_windows
from rules.packs.figure_functions import TEXT_PARAMETER, FunctionParameter
from rules.packs.sourced import SourceLocation
from rules.signals import units
from rules.signals.model import Signal


class FigureTermChecker:
    """Checks one term of a figure."""

    def __init__(self, faults: list[Fault], location: SourceLocation, scope: Scope) -> None:
        self._faults = faults
        self._location = location
        self._scope = scope

    def check(self, text: str, parameter: FunctionParameter) -> checked_tree.Term | Signal | None:
        """Give the term in the parameter's unit, or the signal of a word; None after a fault was added."""
        term = self._parse(text)
        if term is None:
            return None
        if parameter.unit == TEXT_PARAMETER:
            return self._word_signal(term)
        check_context = CheckContext(self._scope)
        found = check_term(check_context, term, lambda _context, _event: None)
        self._faults.extend(
            Fault(
                self._location.character_place(problem.offset), problem.what, problem.expected, problem.hint
            )
            for problem in check_context.problems
        )
        if check_context.problems:
            return None
        if found is None or inner_windows(found.term):
            hint = "use them in a condition"
            self._add_fault("a figure cannot use windows or counts", "names and numbers, with + - * /", hint)
            return None
        return self._convert(found, parameter)

    def _parse(self, text: str) -> syntax.TermExpr | None:
        """Parse the text; None after a fault was added."""
        try:
            return parse_term(text)
        except ParseError as problem:
            place = self._location.character_place(problem.offset)
            self._faults.append(Fault(place, problem.what, problem.expected, problem.hint))
            return None

    def _word_signal(self, term: syntax.TermExpr) -> Signal | None:
        """Give the signal of a word or text."""
        signal = self._scope.signals.get(term.path) if isinstance(term, syntax.NameExpr) else None
        if signal is None or signal.is_numeric:
            self._add_fault("expected a word here", "the name of a signal that is text")
            return None
        return signal

    def _convert(self, found: MeasuredTerm, parameter: FunctionParameter) -> checked_tree.Term | None:
        """Convert the term to the function's unit."""
        unit = found.unit or "1"
        if found.is_unitless and parameter.unit != "1":
            self._add_fault("a number without a unit", f"a unit such as {parameter.unit}")
            return None
        if not units.compatible(unit, parameter.unit):
            self._faults.append(
                Fault(
                    self._location.place(),
                    f"{unit} does not convert to {parameter.unit}",
                    f"a unit such as {parameter.unit}",
                )
            )
            return None
        return in_unit(found, parameter.unit, delta=found.nature is Nature.DIFFERENCE)

    def _add_fault(self, what: str, expected: str, hint: str = "") -> None:
        """Add a fault at the term."""
        self._faults.append(Fault(self._location.place(), what, expected, hint))
