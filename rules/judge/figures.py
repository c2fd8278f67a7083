"""Evaluation of figures: computed again when an input changes, and explained when a reason needs them.

Takes: the figures of a pack, the state, the samples of a step.  Gives: the samples of the figures that changed, and the
names of signals in reasons (`SignalNames`); `compute_figures` for values at one moment.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from rules.arithmetic.domain import DomainError
from rules.arithmetic.entry_errors import mistyped_digit, unit_mixup
from rules.judge.figure_calls import FigureCall, figure_call
from rules.judge.snapshot import FigureResult
from rules.language import checked_tree
from rules.language.explain.terms import shown_number
from rules.language.online.closures import ClosureBuilder
from rules.packs.model import Figure, Pack
from rules.signals.model import TRIP_PREFIX, Sample, Signal, Value, is_valid
from rules.signals.number_format import format_value, in_steps
from rules.signals.state import SignalState
from rules.words import words_of_id

_PLACEHOLDER = re.compile(r"\{([^{}]+)\}")
_OPTIONAL_PART = re.compile(r"\[([^\[\]]*)\]")
_TYPED_PREFIXES = ("management.", "speeds.", TRIP_PREFIX, "autoflight.")


def compute_figures(pack: Pack, values: Mapping[str, Value]) -> tuple[FigureResult, ...]:
    """Compute every figure of a pack whose inputs are known, in the pack's order.

    Args:
        pack: The pack.
        values: Values of signals and of the trip sheet, by signal name; those that a signal cannot have are left out.
    """
    state = SignalState(pack.signals)
    for name, value in values.items():
        signal = pack.signals.get(name)
        if signal is not None and is_valid(signal, value):
            state.set_value(name, value, 0.0)
    figures = FigureEvaluator(pack, state)
    figures.evaluate_all()
    known = ((figure.signal, state.values.get(figure.signal.name)) for figure in pack.figures)
    return tuple(
        FigureResult(
            signal,
            figures.name(signal),
            value,
            figures.calculation(signal),
        )
        for signal, value in known
        if isinstance(value, float | int)
    )


def lossy_signals(pack: Pack) -> frozenset[str]:
    """Signals whose data a gap loses: all but those of the trip sheet, and the figures computed from these alone."""
    figures = {figure.signal.name for figure in pack.figures}
    lossy = {name for name in pack.signals if not name.startswith(TRIP_PREFIX)} - figures
    for figure in pack.figures:
        if not lossy.isdisjoint(figure.input_signals):
            lossy.add(figure.signal.name)
    return frozenset(lossy)


@dataclass(slots=True)
class BoundFigure:
    """A figure with the name of its signal, and a closure that computes it; `refusal` is why the function gave no result."""

    figure: Figure
    name: str
    call: FigureCall
    refusal: str = ""


class FigureEvaluator:
    """The figures of one judge; as `SignalNames` it names and explains them."""

    def __init__(self, pack: Pack, state: SignalState) -> None:
        self._state = state
        self._terms = ClosureBuilder(state.values.get, {})
        self._bound = [self._bind(figure) for figure in pack.figures]
        self._by_name = {bound.name: bound for bound in self._bound}
        self._names = tuple(self._by_name)
        self._readers: dict[str, tuple[int, ...]] = {}
        for number, bound in enumerate(self._bound):
            for name in bound.figure.input_signals:
                self._readers[name] = (*self._readers.get(name, ()), number)

    def _bind(self, figure: Figure) -> BoundFigure:
        """Bind a figure to the state."""
        readers = {keyword: self._terms.reader(term) for keyword, term in figure.terms.items()}
        return BoundFigure(figure, figure.signal.name, figure_call(figure, readers, self._state.values))

    def evaluate_all(self) -> list[Sample]:
        """Compute every figure: at the first frame, and after a reset."""
        self._state.forget(self._names)
        return self._evaluate(set(range(len(self._bound))))

    def update(self, samples: Iterable[Sample]) -> list[Sample]:
        """Compute the figures that read one of these samples, and the figures that read those.

        Returns:
            The figures whose value or quality changed, in the order of computation.
        """
        readers = self._readers
        due = {number for sample in samples if sample[0] in readers for number in readers[sample[0]]}
        return self._evaluate(due) if due else []

    def _evaluate(self, due: set[int]) -> list[Sample]:
        """Compute each figure at most once, after those that it reads."""
        changed: list[Sample] = []
        for number, bound in enumerate(self._bound):
            if number in due:
                sample = self._store(bound)
                if sample is not None:
                    changed.append(sample)
                    due.update(self._readers.get(sample[0], ()))
        return changed

    def _store(self, bound: BoundFigure) -> Sample | None:
        """Store one figure in the state; None where it is unchanged, or its inputs were never received."""
        state, name, value = self._state, bound.name, self._compute(bound)
        if value is None and not state.has_sample(name) and not bound.refusal:
            return None
        return state.set_derived(name, value)

    def _compute(self, bound: BoundFigure) -> float | None:
        """Value of the figure in its signal's unit, None where an input is unknown or out of range."""
        bound.refusal = ""
        try:
            return bound.call()
        except (DomainError, ArithmeticError) as refused:  # such as a result too large to be a number
            bound.refusal = str(refused)
            return None

    # -- names of signals in reasons ---------------------------------------------------------------

    def name(self, signal: Signal) -> str:
        """Label of a figure with its placeholders filled in; of any other signal, its label."""
        bound = self._by_name.get(signal.name)
        if bound is None:
            return signal.label
        label = _PLACEHOLDER.sub(lambda place: self._value_text(place[1]), bound.figure.label)
        return f"{label} ({bound.refusal})" if bound.refusal else label

    def calculation(self, signal: Signal) -> str:
        """Calculation of a figure; '' for any other signal."""
        bound = self._by_name.get(signal.name)
        if bound is None:
            return ""
        figure = bound.figure
        arguments = {keyword: self._argument_text(term) for keyword, term in figure.terms.items()}
        arguments |= {keyword: self._value_text(word.name) for keyword, word in figure.words.items()}
        return _fill_template(figure.explanation, arguments)

    def sources(self, signal: Signal) -> tuple[Signal, ...]:
        """Signals whose missing value leaves a figure without one; the figure itself where the function refused."""
        bound = self._by_name.get(signal.name)
        if bound is None or bound.refusal:
            return (signal,)
        missing = [name for name in bound.figure.input_signals if name not in self._state.values]
        found = tuple(s for name in missing for s in self.sources(self._state.signals[name]))
        return tuple(dict.fromkeys(found)) or (signal,)

    def remark(self, wanted: float, actual: float, signals: Sequence[Signal]) -> str:
        """Likely mix-up of units, or mistyped digit where the crew types the value; '' for none."""
        if wanted <= 0.0 or actual <= 0.0 or not signals or not all(signal.is_numeric for signal in signals):
            return ""
        fuel = any("fuel" in signal.name and "zero_fuel" not in signal.name for signal in signals)
        # Two gauges that differ are no entry, and have no slip of units.
        entered = any(
            signal.name.startswith(_TYPED_PREFIXES) or signal.name in self._by_name for signal in signals
        )
        mixup = unit_mixup(wanted, actual, signals[0].unit, fuel=fuel) if entered else ""
        typed = all(
            signal.name.startswith(_TYPED_PREFIXES) or signal.name in self._by_name for signal in signals[:1]
        )
        return mixup or (mistyped_digit(wanted, actual) if typed else "")

    def _value_text(self, name: str) -> str:
        """Present value of a signal as text."""
        value, signal = self._state.values.get(name), self._state.signals[name]
        if value is None:
            return f"unknown {signal.label}"
        return (
            words_of_id(value)
            if isinstance(value, str)
            else format_value(in_steps(value, signal.shown_step), signal.unit)
        )

    def _argument_text(self, term: checked_tree.Term) -> str:
        """Argument of a function as text, with its name where it has one."""
        value = self._terms.reader(term)()
        if value is None:
            return "unknown"
        unit = term.unit or "1"
        if isinstance(term, checked_tree.SignalValue):
            return f"{self.name(term.signal)} {format_value(shown_number(term, value), unit)}"
        label = term.label if isinstance(term, checked_tree.Constant) else ""
        return f"{label} {format_value(value, unit)}".strip()


def _fill_template(template: str, arguments: dict[str, str]) -> str:
    """Fill in a sentence; a part in brackets is used only if all of its placeholders are given."""

    def chosen(option: re.Match[str]) -> str:
        return option[1] if all(place in arguments for place in _PLACEHOLDER.findall(option[1])) else ""

    return _PLACEHOLDER.sub(
        lambda place: arguments.get(place[1], "unknown"), _OPTIONAL_PART.sub(chosen, template)
    )
