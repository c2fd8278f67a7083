"""Printer: from a tree back to the text of a condition, so that reading it gives an equal tree.

Takes: `tree.Condition`.  Gives: text in the language's plainest form.
"""

from __future__ import annotations

from decimal import Decimal

from rules.language import tree

_LOOSE, _OR, _AND, _NOT, _TIGHT = range(5)
"""How firmly a form binds: a part that binds less than its place asks for gets brackets."""


def write(condition: tree.Condition) -> str:
    """Write a condition so that it parses back to an equal tree."""
    return _condition(condition, _LOOSE)


def _condition(part: tree.Condition, asked: int) -> str:
    """A condition, in brackets where it binds less firmly than its place asks for."""
    text, firmness = _bound(part)
    return f"({text})" if firmness < asked else text


def _bound(part: tree.Condition) -> tuple[str, int]:
    """The text of a condition and how firmly it binds."""
    match part:
        case tree.Implies(when, then):
            return f"if {_condition(when, _OR)} then {_condition(then, _LOOSE)}", _LOOSE
        case tree.Either(parts):
            return " or ".join(_condition(each, _AND) for each in parts), _OR
        case tree.All(parts):
            return " and ".join(_condition(each, _NOT) for each in parts), _AND
        case tree.Opposite(inner):
            return f"not {_condition(inner, _NOT)}", _NOT
        case tree.AnyOf(inner):
            return f"any {_condition(inner, _NOT)}", _NOT
        case tree.Held(inner, span):
            return f"{_condition(inner, _TIGHT)} for {_number(span)}", _TIGHT
        case tree.Since(inner, event):
            return f"{_condition(inner, _TIGHT)} since {_event(event)}", _TIGHT
        case _:
            return _claim(part), _TIGHT


def _claim(part: tree.Condition) -> str:
    """A comparison, or an event that stands as a condition."""
    match part:
        case tree.Occurred(event):
            return _event(event)
        case tree.Recent(event, span):
            return f"{_event(event)} within the last {_number(span)}"
        case tree.Order(first, relation, second):
            return f"{_event(first)} {relation} {_event(second)}"
        case tree.Compare(left, op, right):
            return f"{_term(left)} {op} {_term(right)}"
        case tree.InRange(term, low, high, unit):
            return f"{_term(term)} in {_span(low, high, unit)}"
        case tree.Near(term, tolerance, target):
            return f"{_term(term)} within {_number(tolerance)} of {_term(target)}"
        case tree.Is(name, words, negated):
            return f"{name.path} is {'not ' if negated else ''}{_words(words)}"
        case _:
            raise AssertionError(part)


def _words(words: tuple[str, ...]) -> str:
    """One word, or the list of them."""
    return words[0] if len(words) == 1 else f"one of ({', '.join(words)})"


def _event(event: tree.Event) -> str:
    """An event; its subject is a name, or a condition in brackets."""
    match event:
        case tree.Swept(term, low, high, unit):
            return f"{_term(term)} swept {_span(low, high, unit)}"
        case tree.Happened(subject):
            return f"{_subject(subject)} happened"
        case tree.Became(subject, word):
            return f"{_subject(subject)} became {word}"


def _subject(subject: tree.Name | tree.Condition) -> str:
    return subject.path if isinstance(subject, tree.Name) else f"({_condition(subject, _LOOSE)})"


def _term(term: tree.Term, *, whole: bool = True) -> str:
    """A term; `whole` is False where a sum needs brackets."""
    match term:
        case tree.Number():
            return _number(term)
        case tree.Name(path):
            return path
        case tree.Sum(left, sign, right):
            text = f"{_term(left)} {sign} {_term(right, whole=not isinstance(right, tree.Sum))}"
            return text if whole else f"({text})"
        case tree.Scaled(inner, sign, factor):
            return f"{_term(inner, whole=False)} {sign} {digits(factor)}"
        case tree.Window(function, inner, span):
            return f"{function}({_term(inner)}, {_number(span)})"
        case tree.CountOf(event, span):
            return f"count({_event(event)}, {_number(span)})"


def _number(number: tree.Number) -> str:
    return f"{digits(number.value)} {number.unit}".rstrip()


def _span(low: float, high: float, unit: str) -> str:
    return f"{digits(low)}..{digits(high)} {unit}".rstrip()


def digits(value: float) -> str:
    """The shortest digits that give the same number back; the language has no exponents."""
    text = format(Decimal(repr(float(value))), "f")
    return text.removesuffix(".0")
