"""Calls the function of a figure with the present values of its inputs.

Fuel burns and air changes in every frame, so some thirty figures are computed in each: a call has to cost little more than
the function itself.  So arguments are passed by position, without a dictionary of keywords, and where each of them is the
value of a signal, all are read at once.

Takes: a figure, and the fresh values of signals.  Gives: `figure_call`.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from operator import itemgetter
from typing import TypeAlias

from rules.language.checked_tree import SignalValue
from rules.language.online.closures import Reader
from rules.packs.model import Figure
from rules.signals.model import Value

FigureCall: TypeAlias = Callable[[], float | None]


def figure_call(figure: Figure, readers: Mapping[str, Reader], values: Mapping[str, Value]) -> FigureCall:
    """Make a closure that computes a figure in its signal's unit; None where an input is unknown.

    It raises what the figure's function raises.

    Args:
        figure: The figure.
        readers: Closures that read its numeric arguments, by keyword.
        values: The fresh values of signals, now and later.
    """
    parameters = _given_parameters(figure)
    names = [_signal_name(figure, parameter.name) for parameter in parameters]
    signals = [name for name in names if name is not None]
    if len(signals) == len(names) > 1:
        return _call_with_signals(figure, signals, values)
    return _call_with_each(figure, [_reader(figure, each, readers, values) for each in parameters])


def _call_with_signals(figure: Figure, signals: Sequence[str], values: Mapping[str, Value]) -> FigureCall:
    """Call with the values of these signals, which are read at once; at least two, since of one it would be no tuple."""
    pick, function, factor, offset = itemgetter(*signals), figure.function, figure.factor, figure.offset

    def call() -> float | None:
        try:
            arguments = pick(values)
        except KeyError:
            return None
        return function(*arguments) * factor + offset

    return call


def _call_with_each(figure: Figure, readers: Sequence[Callable[[], Value | None]]) -> FigureCall:
    """Call with arguments that are read one by one."""
    function, factor, offset = figure.function, figure.factor, figure.offset

    def call() -> float | None:
        arguments = [read() for read in readers]
        return None if None in arguments else function(*arguments) * factor + offset

    return call


def _given_parameters(figure: Figure) -> list[inspect.Parameter]:
    """Parameters of the function up to the last one that the figure gives."""
    given = {*figure.terms, *figure.words}
    parameters = list(inspect.signature(figure.function).parameters.values())
    last = max((number for number, parameter in enumerate(parameters) if parameter.name in given), default=-1)
    return parameters[: last + 1]


def _signal_name(figure: Figure, keyword: str) -> str | None:
    """Name of the signal whose value is the argument as it is; None for any other argument."""
    if keyword in figure.words:
        return figure.words[keyword].name
    term = figure.terms.get(keyword)
    if isinstance(term, SignalValue) and (term.factor, term.offset) == (1.0, 0.0):
        return term.signal.name
    return None


def _reader(
    figure: Figure,
    parameter: inspect.Parameter,
    readers: Mapping[str, Reader],
    values: Mapping[str, Value],
) -> Callable[[], Value | None]:
    """Give the reader of one argument; one that the figure leaves out has its default."""
    keyword: str = parameter.name
    if keyword in figure.words:
        return partial(values.get, figure.words[keyword].name)
    return readers.get(keyword, lambda: parameter.default)
