"""The terms that a figure is given: checked, and in the units of its function.

Takes: terms as written, the names of the pack.  Gives: checked terms, or the signal of a word.
"""

from __future__ import annotations

from rules.faults import Fault
from rules.language import checked, tree
from rules.language.check.names import Desk
from rules.language.check.terms import measure
from rules.language.check.units import Measure, Nature, in_unit
from rules.language.parse import ParseProblem, parse
from rules.language.scope import Scope
from rules.packs.figures_known import TEXT, Parameter
from rules.packs.spots import Spot
from rules.signals import units
from rules.signals.model import Signal


class TermsOf:
    """Checks one term of a figure."""

    def __init__(self, faults: list[Fault], spot: Spot, scope: Scope) -> None:
        """Check what stands at this spot."""
        self._faults = faults
        self._spot = spot
        self._scope = scope

    def of(self, text: str, parameter: Parameter) -> checked.Term | Signal | None:
        """The term in the parameter's unit, or the signal of a word; None where a fault was noted."""
        term = self._parsed(text)
        if term is None:
            return None
        if parameter.unit == TEXT:
            return self._word(term)
        desk = Desk(self._scope)
        found = measure(desk, term, lambda _desk, _event: None)
        self._faults.extend(
            Fault(self._spot.inside(slip.at), slip.what, slip.expected, slip.hint) for slip in desk.slips
        )
        if desk.slips:
            return None
        if found is None or _looks_back(found.term):
            hint = "windows and counts stand in conditions"
            self._fault("a figure looks at the present only", "names and numbers, with + - * /", hint)
            return None
        return self._converted(found, parameter)

    def _parsed(self, text: str) -> tree.Term | None:
        """The text as a term: it is read as the left side of a comparison, since only conditions can be read."""
        try:
            read = parse(f"{text.rstrip()} = 0")
        except ParseProblem as problem:
            at = min(problem.offset, max(len(text.rstrip()) - 1, 0))
            self._faults.append(
                Fault(
                    self._spot.inside(at),
                    f"'{text}' is no term: {problem.what}",
                    "a name or a number with its unit",
                    problem.hint,
                )
            )
            return None
        if isinstance(read, tree.Compare) and read.op == "=" and read.right == tree.Number(0.0):
            return read.left
        self._fault(f"'{text}' is no term", "names and numbers, with + - * /")
        return None

    def _word(self, term: tree.Term) -> Signal | None:
        """The signal of a word or text."""
        signal = self._scope.signals.get(term.path) if isinstance(term, tree.Name) else None
        if signal is None or signal.numeric:
            self._fault("a word is needed here", "the name of a signal that is text")
            return None
        return signal

    def _converted(self, found: Measure, parameter: Parameter) -> checked.Term | None:
        """The term in the function's unit."""
        unit = found.unit or "1"
        if found.bare and parameter.unit != "1":
            self._fault("a number without a unit", f"a unit such as {parameter.unit}")
            return None
        if not units.compatible(unit, parameter.unit):
            self._faults.append(
                Fault(
                    self._spot.place(),
                    f"{unit} does not convert to {parameter.unit}",
                    f"a unit such as {parameter.unit}",
                )
            )
            return None
        return in_unit(found, parameter.unit, delta=found.nature is Nature.DIFFERENCE)

    def _fault(self, what: str, expected: str, hint: str = "") -> None:
        """Note a fault at the term."""
        self._faults.append(Fault(self._spot.place(), what, expected, hint))


def _looks_back(term: checked.Term) -> bool:
    """Whether a term has a window or a count in it."""
    if isinstance(term, checked.Combine):
        return _looks_back(term.left) or _looks_back(term.right)
    if isinstance(term, checked.Scale):
        return _looks_back(term.term)
    return isinstance(term, checked.Windowed | checked.Count)
