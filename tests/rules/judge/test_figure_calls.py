"""Arguments of figures: each reaches the parameter of its name, whatever it is read from."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from rules.judge.figure_calls import figure_call
from rules.language.checked_tree import Constant, SignalValue, Sum, Term
from rules.language.online.closures import ClosureBuilder
from rules.packs.model import Figure
from rules.signals.model import Signal, SignalKind, Value


def _number(name: str) -> Signal:
    return Signal(name, SignalKind.QUANTITY, 0, name, name, "kg", 0.0, 100.0)


LEFT, RIGHT = _number("left"), _number("right")
MODE = Signal("mode", SignalKind.CHOICE, 0, "mode", "mode", words=("auto", "high"))
FIGURE = _number("figure.it")
KNOWN: dict[str, Value] = {"left": 3.0, "right": 5.0, "mode": "high"}


def _spelled(one: float, two: float = 20.0, three: float = 300.0, mode: str = "auto") -> float:
    """A number whose digits show which argument came to which parameter."""
    return one + 10.0 * two + 1000.0 * three + (0.5 if mode == "high" else 0.0)


def _call(
    terms: Mapping[str, Term], words: Mapping[str, Signal], values: Mapping[str, Value]
) -> float | None:
    figure = Figure(FIGURE, _spelled, terms, words, 2.0, 1.0, "it", "")
    closures = ClosureBuilder(dict(values).get, {})
    return figure_call(figure, {word: closures.reader(term) for word, term in terms.items()}, values)()


A, B = SignalValue(LEFT, unit="kg"), SignalValue(RIGHT, unit="kg")
CASES: list[tuple[dict[str, Term], dict[str, Signal]]] = [
    ({"one": A}, {}),
    ({"one": A, "two": B}, {}),
    ({"two": B, "one": A}, {}),
    ({"one": A, "three": B}, {}),
    ({"one": A}, {"mode": MODE}),
    ({"one": A, "two": B, "three": A}, {"mode": MODE}),
    ({"one": Constant(7.0, "kg"), "two": B}, {}),
    ({"one": SignalValue(LEFT, 10.0, 2.0, "kg"), "two": Sum(A, B, -1, "kg")}, {}),
]


@pytest.mark.parametrize(("terms", "words"), CASES)
def test_each_argument_reaches_its_parameter(terms: dict[str, Term], words: dict[str, Signal]) -> None:
    """The result is that of a call by keywords, converted to the figure's unit."""
    read = ClosureBuilder(KNOWN.get, {})
    numbers = {keyword: read.reader(term)() for keyword, term in terms.items()}
    spoken = {keyword: KNOWN[signal.name] for keyword, signal in words.items()}
    assert _call(terms, words, KNOWN) == _spelled(**numbers, **spoken) * 2.0 + 1.0  # type: ignore[arg-type]


@pytest.mark.parametrize(("terms", "words"), CASES)
def test_an_unknown_input_gives_no_value(terms: dict[str, Term], words: dict[str, Signal]) -> None:
    """Without any one of its inputs the figure is unknown."""
    figure = Figure(FIGURE, _spelled, terms, words, 2.0, 1.0, "it", "")
    for missing in figure.input_signals:
        assert _call(terms, words, {name: KNOWN[name] for name in KNOWN if name != missing}) is None
