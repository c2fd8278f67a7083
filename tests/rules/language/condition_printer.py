"""Printer: from a tree to the text of a condition that parses to an equal tree.

Takes: a `ConditionExpr`.  Gives: text in the language's plainest form.
"""

from __future__ import annotations

from rules.language import syntax
from rules.signals.number_format import shortest_digits

_LOOSE, _OR, _AND, _NOT, _TIGHT, _CLAIM = range(6)
"""Binding strength of a form: a part that binds more weakly than its place requires gets brackets."""


def format_condition(condition: syntax.ConditionExpr) -> str:
    """Format a condition so that it parses to an equal tree."""
    return _condition(condition, _LOOSE)


def _condition(part: syntax.ConditionExpr, required: int) -> str:
    """Format a condition, in brackets where it binds more weakly than its place requires."""
    text, firmness = _text_and_binding(part)
    return f"({text})" if firmness < required else text


def _text_and_binding(part: syntax.ConditionExpr) -> tuple[str, int]:
    """Format a condition; gives the text and its binding strength."""
    match part:
        case syntax.ImpliesExpr(when, then):
            return f"if {_condition(when, _OR)} then {_condition(then, _LOOSE)}", _LOOSE
        case syntax.UnlessExpr(inner, excuse):
            return f"{_condition(inner, _OR)} unless {_condition(excuse, _OR)}", _LOOSE
        case syntax.OrExpr(parts):
            return " or ".join(_condition(each, _AND) for each in parts), _OR
        case syntax.AndExpr(parts):
            return " and ".join(_condition(each, _NOT) for each in parts), _AND
        case syntax.NotExpr() | syntax.AnyExpr() | syntax.NumberOfExpr():
            return _before_a_condition(part), _NOT
        case syntax.ForExpr(inner, span):
            return f"{_condition(inner, _TIGHT)} for {_number(span)}", _TIGHT
        case syntax.SinceExpr(inner, event):
            return f"{_condition(inner, _TIGHT)} since {_event(event)}", _TIGHT
        case syntax.DeadlineExpr():
            return _deadline(part), _TIGHT
        case syntax.OccurredExpr() | syntax.WithinLastExpr() | syntax.BeforeAfterExpr():
            return _predicate(part), _TIGHT
        case _:
            return _predicate(part), _CLAIM


def _before_a_condition(part: syntax.NotExpr | syntax.AnyExpr | syntax.NumberOfExpr) -> str:
    """Format a form whose words stand before a condition."""
    match part:
        case syntax.NotExpr(inner):
            return f"not {_condition(inner, _NOT)}"
        case syntax.AnyExpr(inner):
            return f"any {_condition(inner, _NOT)}"
        case syntax.NumberOfExpr(bound, number, (inner,)):
            return f"{bound} {shortest_digits(number)} of {_condition(inner, _NOT)}"
        case syntax.NumberOfExpr(bound, number, parts):
            listed = ", ".join(_condition(each, _LOOSE) for each in parts)
            return f"{bound} {shortest_digits(number)} of ({listed})"


def _deadline(part: syntax.DeadlineExpr) -> str:
    awaited = part.part
    first = _event(awaited) if isinstance(awaited, syntax.EventExpr) else _condition(awaited, _CLAIM)
    return f"{first} within {_number(part.span)} after {_event(part.event)}"


def _predicate(part: syntax.ConditionExpr) -> str:
    """Format a comparison, or an event that is used as a condition."""
    match part:
        case syntax.OccurredExpr(event):
            return _event(event)
        case syntax.WithinLastExpr(event, span):
            return f"{_event(event)} within the last {_number(span)}"
        case syntax.BeforeAfterExpr(first, relation, second):
            return f"{_event(first)} {relation} {_event(second)}"
        case syntax.CompareExpr(left, op, right):
            return f"{_term(left)} {op} {_term(right)}"
        case syntax.InRangeExpr(term, low, high):
            return f"{_term(term)} in {_term(low)}..{_term(high)}"
        case syntax.WithinExpr(term, tolerance, target):
            return f"{_term(term)} within {_term(tolerance)} of {_term(target)}"
        case syntax.IsExpr(name, words, negated):
            return f"{name.path} is {'not ' if negated else ''}{_words(words)}"
        case _:
            raise AssertionError(part)


def _words(words: tuple[str, ...]) -> str:
    """Format one word, or the list of words."""
    return words[0] if len(words) == 1 else f"one of ({', '.join(words)})"


def _event(event: syntax.EventExpr) -> str:
    """Format an event; its subject is a name, or a condition in brackets."""
    match event:
        case syntax.SweptExpr(term, low, high):
            return f"{_term(term)} swept {_term(low)}..{_term(high)}"
        case syntax.ChangedExpr(name):
            return f"{name.path} changed"
        case syntax.HappenedExpr(subject, speaker):
            by = f" by {speaker}" if speaker else ""
            return f"{_subject(subject)}{by} happened"
        case syntax.BecameExpr(subject, word):
            return f"{_subject(subject)} became {word}"


def _subject(subject: syntax.NameExpr | syntax.ConditionExpr) -> str:
    return subject.path if isinstance(subject, syntax.NameExpr) else f"({_condition(subject, _LOOSE)})"


def _term(term: syntax.TermExpr, *, bracketless: bool = True) -> str:
    """Format a term; `bracketless` is False where a sum needs brackets."""
    match term:
        case syntax.NumberExpr():
            return _number(term)
        case syntax.NameExpr(path):
            return path
        case syntax.SumExpr(left, sign, right):
            text = f"{_term(left)} {sign} {_term(right, bracketless=not isinstance(right, syntax.SumExpr))}"
            return text if bracketless else f"({text})"
        case syntax.ScaleExpr(inner, sign, factor, unit):
            number = f"{shortest_digits(factor)} {unit}".rstrip()
            return f"{_term(inner, bracketless=False)} {sign} {number}"
        case syntax.WindowExpr(function, inner, span):
            return f"{function}({_term(inner)}, {_number(span)})"
        case syntax.AmongExpr(function, (syntax.NameExpr(path),)):
            return f"{function} of {path}"
        case syntax.AmongExpr(function, terms):
            return f"{function} of ({', '.join(_term(each) for each in terms)})"
        case syntax.SizeExpr(inner):
            return f"size of ({_term(inner)})"
        case syntax.CountExpr(event, span):
            return f"count({_event(event)}, {_number(span)})"


def _number(number: syntax.NumberExpr) -> str:
    return f"{shortest_digits(number.value)} {number.unit}".rstrip()
