"""How terms and numbers are said: "highest engine 2 EGT in 60 s", "more than 5 kt", "2 800 to 3 200".

Takes: checked terms, numbers.  Gives: text, and the signals that a term or condition reads.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import TypeAlias

from rules.language.checked import (
    Between,
    CallMade,
    Close,
    Combine,
    Const,
    Count,
    Read,
    Relation,
    SameWord,
    Scale,
    Sweep,
    Term,
    Windowed,
    WordIs,
)
from rules.signals.model import Signal
from rules.signals.numbers import say, say_apart

Atom: TypeAlias = Relation | Between | Close | WordIs | SameWord
ValueOf: TypeAlias = Callable[[Term], float | None]
NameOf: TypeAlias = Callable[[Signal], str]

_COMPARED = {
    "=": "",
    "!=": "other than ",
    "<": "less than ",
    "<=": "at most ",
    ">": "more than ",
    ">=": "at least ",
}
OPPOSITES = {"=": "!=", "!=": "=", "<": ">=", ">=": "<", ">": "<=", "<=": ">"}
MIRRORED = {"=": "=", "!=": "!=", "<": ">", ">": "<", "<=": ">=", ">=": "<="}


def compared(op: str) -> str:
    """The words before the wanted number: "more than ", nothing for equality."""
    return _COMPARED[op]


def bare(value: float, unit: str) -> str:
    """The number without its unit, grouped and rounded as with it."""
    return say(value, unit).removesuffix(f" {unit}")


def span(low: float, high: float, unit: str) -> str:
    """Both ends of a range: "2 800 to 3 200 psi"."""
    return f"{bare(low, unit)} to {say(high, unit)}"


def unit_of(term: Term) -> str:
    """The unit in which the term's value is."""
    return term.unit or (term.signal.unit if isinstance(term, Read) else "")


def term_text(term: Term, event_text: Callable[[Count], str], name_of: NameOf = attrgetter("label")) -> str:
    """A term as a pilot names it; `event_text` words what a count counts, `name_of` what a signal is called."""

    def text(inner: Term) -> str:
        return term_text(inner, event_text, name_of)

    if isinstance(term, Read):
        return name_of(term.signal)
    if isinstance(term, Const):
        return f"{say(term.value, term.unit)} ({term.label})" if term.label else say(term.value, term.unit)
    if isinstance(term, Combine):
        return f"{text(term.left)} {'plus' if term.sign > 0 else 'less'} {text(term.right)}"
    if isinstance(term, Scale):
        return f"{text(term.term)} times {bare(term.factor, '1')}"
    if isinstance(term, Count):
        return f"times that {event_text(term)} in the last {say(term.seconds, 's')}:"
    return _window_text(term, text(term.term))


def _window_text(term: Windowed, inner: str) -> str:
    span_text = say(term.seconds, "s")
    if term.function in ("highest", "lowest"):
        return f"{term.function} {inner} in the last {span_text}"
    if term.function == "change":
        return f"change of {inner} in {span_text}"
    return f"rate of {inner} over {span_text}"


def target_text(
    term: Term, value: float | None, event_text: Callable[[Count], str], name_of: NameOf = attrgetter("label")
) -> str:
    """The wanted side: a number, with the name that it came from where it has one."""
    if isinstance(term, Const) or value is None:
        return term_text(term, event_text, name_of)
    return f"{say(value, unit_of(term))} ({term_text(term, event_text, name_of)})"


def told_apart(value: float, other: float, unit: str) -> tuple[str, str]:
    """Both numbers with their unit, in as many decimals as it takes to see that they differ."""
    return say_apart(value, other, unit)


def signals_in(term: Term) -> tuple[Signal, ...]:
    """Every signal that a term reads, windows and counts included."""
    if isinstance(term, Read):
        return (term.signal,)
    if isinstance(term, Combine):
        return signals_in(term.left) + signals_in(term.right)
    if isinstance(term, (Scale, Windowed)):
        return signals_in(term.term)
    return _counted(term) if isinstance(term, Count) else ()


def _counted(term: Count) -> tuple[Signal, ...]:
    event = term.event
    if isinstance(event, CallMade):
        return ()
    if isinstance(event, Sweep):
        return signals_in(event.term)
    return atom_signals(event.part) if isinstance(event.part, Atom) else ()


def atom_signals(atom: Atom) -> tuple[Signal, ...]:
    """Every signal that a comparison reads, once each."""
    if isinstance(atom, WordIs):
        return (atom.signal,)
    if isinstance(atom, SameWord):
        return (atom.left, atom.right)
    if isinstance(atom, Between):
        found = signals_in(atom.term)
    elif isinstance(atom, Close):
        found = signals_in(atom.term) + signals_in(atom.target)
    else:
        found = signals_in(atom.left) + signals_in(atom.right)
    return tuple(dict.fromkeys(found))
