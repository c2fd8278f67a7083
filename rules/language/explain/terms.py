"""Text of terms and numbers: "highest engine 2 EGT in 60 s", "more than 5 kt", "2 800 to 3 200".

Takes: checked terms, numbers.  Gives: text.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import TypeAlias

from rules.language.checked_tree import (
    Among,
    Constant,
    EventCount,
    Scale,
    SignalValue,
    Size,
    Sum,
    Term,
    Window,
)
from rules.signals.model import Signal
from rules.signals.number_format import format_value, in_steps
from rules.words import join_and

NameOf: TypeAlias = Callable[[Signal], str]

_OPERATOR_WORDS = {
    "=": "",
    "!=": "other than ",
    "<": "less than ",
    "<=": "at most ",
    ">": "more than ",
    ">=": "at least ",
}
NEGATED_OPERATORS = {"=": "!=", "!=": "=", "<": ">=", ">=": "<", ">": "<=", "<=": ">"}
MIRRORED_OPERATORS = {"=": "=", "!=": "!=", "<": ">", ">": "<", "<=": ">=", ">=": "<="}


def operator_words(op: str) -> str:
    """Give the words before the wanted number: "more than ", '' for equality."""
    return _OPERATOR_WORDS[op]


def without_unit(value: float, unit: str) -> str:
    """Format the number without its unit, grouped and rounded as with it."""
    return format_value(value, unit).removesuffix(f" {unit}")


def range_text(low: float, high: float, unit: str) -> str:
    """Format both ends of a range: "2 800 to 3 200 psi"."""
    return f"{without_unit(low, unit)} to {format_value(high, unit)}"


def range_names(low: str, high: str) -> str:
    """Format the names of the ends of a range, '' where an end is a plain number: " (VREF less 5 kt to VREF)"."""
    if low and high:
        return f" ({low} to {high})"
    return f" (from {low})" if low else f" (to {high})" if high else ""


def name_of_value(
    term: Term, event_text: Callable[[EventCount], str], name_of: NameOf = attrgetter("label")
) -> str:
    """Give the name of a number that is shown beside its value; '' for a plain number."""
    return term.label if isinstance(term, Constant) else term_text(term, event_text, name_of)


def unit_of(term: Term) -> str:
    """Give the unit of the term's value."""
    return term.unit or (term.signal.unit if isinstance(term, SignalValue) else "")


def shown_number(term: Term, value: float) -> float:
    """Give the value of a term as texts show it: a signal that is shown in steps is rounded to them."""
    return (
        in_steps(value, term.signal.shown_step * abs(term.factor)) if isinstance(term, SignalValue) else value
    )


def term_text(
    term: Term, event_text: Callable[[EventCount], str], name_of: NameOf = attrgetter("label")
) -> str:
    """Describe a term as a pilot names it; `event_text` describes a count's event, `name_of` names a signal."""

    def text(inner: Term) -> str:
        # The name of a constant says enough inside of a calculation, whose result is shown: brackets do not nest.
        if isinstance(inner, Constant) and inner.label:
            return inner.label
        return term_text(inner, event_text, name_of)

    if isinstance(term, SignalValue):
        return name_of(term.signal)
    if isinstance(term, Constant):
        return (
            f"{format_value(term.value, term.unit)} ({term.label})"
            if term.label
            else format_value(term.value, term.unit)
        )
    if isinstance(term, Sum):
        return f"{text(term.left)} {'plus' if term.sign > 0 else 'less'} {text(term.right)}"
    if isinstance(term, Scale):
        return f"{text(term.term)} {term.label or 'times ' + without_unit(term.factor, '1')}"
    if isinstance(term, Among):
        return f"{term.function} of {join_and(text(each) for each in term.terms)}"
    if isinstance(term, Size):
        return _size_text(term, text)
    if isinstance(term, EventCount):
        return f"times that {event_text(term)} in the last {format_value(term.seconds, 's')}:"
    return _window_text(term, text(term.term))


def _size_text(term: Size, text: Callable[[Term], str]) -> str:
    inner = term.term
    chained = isinstance(inner, Sum) and isinstance(inner.left, Sum) and inner.left.sign < 0
    if isinstance(inner, Sum) and inner.sign < 0 and not chained:
        return f"difference between {text(inner.left)} and {text(inner.right)}"
    return f"size of {text(inner)}"


def _window_text(term: Window, inner: str) -> str:
    span_text = format_value(term.seconds, "s")
    if term.function in ("highest", "lowest", "average"):
        return f"{term.function} {inner} in the last {span_text}"
    if term.function == "change":
        return f"change of {inner} in {span_text}"
    return f"rate of {inner} over {span_text}"


def target_text(
    term: Term,
    value: float | None,
    event_text: Callable[[EventCount], str],
    name_of: NameOf = attrgetter("label"),
) -> str:
    """Describe the wanted side: a number, with its name where it has one."""
    if isinstance(term, Constant) or value is None:
        return term_text(term, event_text, name_of)
    return (
        f"{format_value(shown_number(term, value), unit_of(term))} ({term_text(term, event_text, name_of)})"
    )
