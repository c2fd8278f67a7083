"""The printer writes text that parses to an equal tree.

Takes: random trees.  Gives: tests that printing and parsing are inverse.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from rules.language import syntax
from rules.language.parser import parse
from rules.signals.number_format import shortest_digits
from tests.rules.language.condition_printer import format_condition
from tests.rules.language.syntax_strategies import conditions


@settings(deadline=None)
@given(conditions)
def test_every_tree_parses_back(written: syntax.ConditionExpr) -> None:
    """The printed text of a tree parses to an equal tree."""
    assert parse(format_condition(written)) == written


@settings(deadline=None)
@given(conditions)
def test_printing_is_stable(written: syntax.ConditionExpr) -> None:
    """Printing a parsed text twice gives the same text."""
    text = format_condition(written)
    assert format_condition(parse(text)) == text


@pytest.mark.parametrize(
    ("untidy", "tidy"),
    [
        ("((lights.beacon   is on))", "lights.beacon is on"),
        ("speed>80kt", "speed > 80 kt"),
        ("x in -5.0 .. 5 %", "x in -5..5 %"),
        ("gear.brake is one of (set)", "gear.brake is set"),
        ("(x * 2) + y > 3 kg", "x * 2 + y > 3 kg"),
        ("a - (b - c) > 0 kg", "a - (b - c) > 0 kg"),
        ("(a + b) * 2 > 0 kg", "(a + b) * 2 > 0 kg"),
        ("(not a is on) for 2 s", "(not a is on) for 2 s"),
        ("not (a is on for 2 s)", "not a is on for 2 s"),
        ("a is on or (b is on and c is on)", "a is on or b is on and c is on"),
        ("(a is on or b is on) and c is on", "(a is on or b is on) and c is on"),
        ("if (a is on) then (b is on or c is on)", "if a is on then b is on or c is on"),
        ("(if a is on then b is on) or c is on", "(if a is on then b is on) or c is on"),
        ("(a is on\n  and b is on) became true", "(a is on and b is on) became true"),
    ],
)
def test_brackets_where_needed(untidy: str, tidy: str) -> None:
    """A condition has the brackets that its meaning needs, and no others."""
    assert format_condition(parse(untidy)) == tidy


@pytest.mark.parametrize(
    ("value", "written"),
    [(2800.0, "2800"), (0.5, "0.5"), (-3.0, "-3"), (1e9, "1000000000"), (1e-7, "0.0000001")],
)
def test_digits_have_no_exponent(value: float, written: str) -> None:
    """A number is written in digits, however small or great, and keeps its value."""
    assert shortest_digits(value) == written
    assert float(written) == value
