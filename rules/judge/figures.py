"""Figures at work: worked out anew when something that they read has changed, and explained when a reason needs them.

Takes: a pack's figures, the state, the samples of a step.  Gives: the samples of the figures that changed, and what
signals are called in reasons (`Names`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from rules.arithmetic.impossible import Impossible
from rules.arithmetic.slips import digit_slip, unit_slip
from rules.language import checked
from rules.language.live.terms import Terms
from rules.packs.model import Figure, Pack
from rules.signals.model import Sample, Signal, Value
from rules.signals.numbers import say
from rules.signals.state import State

_PLACE = re.compile(r"\{([^{}]+)\}")
_OPTION = re.compile(r"\[([^\[\]]*)\]")
_DIALLED = ("management.", "speeds.", "trip.", "autoflight.")


@dataclass(slots=True)
class Working:
    """One figure with closures that read what it needs; `refusal` is why the function had no answer."""

    figure: Figure
    numbers: dict[str, Callable[[], float | None]]
    refusal: str = ""


class Figures:
    """The figures of one core; as `Names` it says what they are called and how they came about."""

    def __init__(self, pack: Pack, state: State) -> None:
        """Nothing is worked out yet."""
        self._state = state
        self._terms = Terms(state.values.get, {})
        self._all = [self._working(figure) for figure in pack.figures]
        self._by_name = {working.figure.signal.name: working for working in self._all}
        self._names = tuple(self._by_name)
        self._readers: dict[str, tuple[int, ...]] = {}
        for number, working in enumerate(self._all):
            for name in working.figure.reads:
                self._readers[name] = (*self._readers.get(name, ()), number)

    def _working(self, figure: Figure) -> Working:
        """A figure with its closures, made once."""
        return Working(figure, {word: self._terms.reader(term) for word, term in figure.terms.items()})

    def begin(self) -> list[Sample]:
        """Work out everything: at the first frame, and after a reset."""
        self._state.forget(self._names)
        return self._work_out(set(range(len(self._all))))

    def follow(self, samples: Iterable[Sample]) -> list[Sample]:
        """Work out what reads one of these samples, and what reads that.

        Returns:
            The figures whose value or quality changed, in the order in which they were worked out.
        """
        readers = self._readers
        due = {number for sample in samples if sample[0] in readers for number in readers[sample[0]]}
        return self._work_out(due) if due else []

    def _work_out(self, due: set[int]) -> list[Sample]:
        """Each figure at most once, after those that it reads."""
        changed: list[Sample] = []
        for number, working in enumerate(self._all):
            if number in due:
                sample = self._put(working)
                if sample is not None:
                    changed.append(sample)
                    due.update(self._readers.get(sample[0], ()))
        return changed

    def _put(self, working: Working) -> Sample | None:
        """Put one figure into the state; None where it is as before, or its inputs were never seen."""
        state, name = self._state, working.figure.signal.name
        value = self._value(working)
        if value is None and not state.seen(name) and not working.refusal:
            return None
        return state.derive(name, value)

    def _value(self, working: Working) -> float | None:
        """The figure's value in its signal's unit, None where an input is unknown or impossible."""
        working.refusal = ""
        figure, given = working.figure, dict[str, Value]()
        for keyword, read in working.numbers.items():
            number = read()
            if number is None:
                return None
            given[keyword] = number
        for keyword, signal in figure.words.items():
            word = self._state.values.get(signal.name)
            if word is None:
                return None
            given[keyword] = word
        try:
            value = figure.function(**given) * figure.factor + figure.offset
            return round(value / figure.step) * figure.step if figure.step else value
        except (Impossible, ArithmeticError) as refused:  # such as a result too large to be a number
            working.refusal = str(refused)
            return None

    # -- what signals are called ------------------------------------------------------------------

    def name(self, signal: Signal) -> str:
        """A figure by its label with the places filled in; any other signal by its label."""
        working = self._by_name.get(signal.name)
        if working is None:
            return signal.label
        label = _PLACE.sub(lambda place: self._said(place[1]), working.figure.label)
        return f"{label} ({working.refusal})" if working.refusal else label

    def working(self, signal: Signal) -> str:
        """As `name`, and for a figure how it came about."""
        working = self._by_name.get(signal.name)
        if working is None:
            return signal.label
        figure = working.figure
        given = {keyword: self._given(term) for keyword, term in figure.terms.items()}
        given |= {keyword: self._said(word.name) for keyword, word in figure.words.items()}
        return f"{self.name(signal)}: {_filled(figure.says, given)}"

    def sources(self, signal: Signal) -> tuple[Signal, ...]:
        """The signals for want of which a figure has no value; itself where the function refused."""
        working = self._by_name.get(signal.name)
        if working is None or working.refusal:
            return (signal,)
        lost = [name for name in working.figure.reads if name not in self._state.values]
        found = tuple(s for name in lost for s in self.sources(self._state.signals[name]))
        return tuple(dict.fromkeys(found)) or (signal,)

    def remark(self, wanted: float, actual: float, signals: Sequence[Signal]) -> str:
        """Pounds taken for kilograms and the like; a digit that was mistyped, where somebody types it."""
        if wanted <= 0.0 or actual <= 0.0 or not signals or not all(signal.numeric for signal in signals):
            return ""
        fuel = any("fuel" in signal.name and "zero_fuel" not in signal.name for signal in signals)
        slip = unit_slip(wanted, actual, signals[0].unit, fuel=fuel)
        typed = all(
            signal.name.startswith(_DIALLED) or signal.name in self._by_name for signal in signals[:1]
        )
        return slip or (digit_slip(wanted, actual) if typed else "")

    def _said(self, name: str) -> str:
        """A signal's present value in words."""
        value, signal = self._state.values.get(name), self._state.signals[name]
        if value is None:
            return f"unknown {signal.label}"
        return value.replace("_", " ") if isinstance(value, str) else say(value, signal.unit)

    def _given(self, term: checked.Term) -> str:
        """What a function was given, with its name where it has one."""
        value = self._terms.reader(term)()
        if value is None:
            return "unknown"
        unit = term.unit or "1"
        if isinstance(term, checked.Read):
            return f"{self.name(term.signal)} {say(value, unit)}"
        label = term.label if isinstance(term, checked.Const) else ""
        return f"{label} {say(value, unit)}".strip()


def _filled(says: str, given: dict[str, str]) -> str:
    """The sentence with its places filled; a part in brackets stands only where all of its places are given."""

    def chosen(option: re.Match[str]) -> str:
        return option[1] if all(place in given for place in _PLACE.findall(option[1])) else ""

    return _PLACE.sub(lambda place: given.get(place[1], "unknown"), _OPTION.sub(chosen, says))
