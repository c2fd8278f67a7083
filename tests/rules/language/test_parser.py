"""The parser accepts every form of rules/language/README.md, and places the mistake in any other text.

Takes: texts.  Gives: trees, or errors.
"""

from __future__ import annotations

import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.language import syntax
from rules.language.parser import MAX_DEPTH, MAX_LENGTH, ParseError, children, parse
from tests.rules.language.condition_printer import format_condition
from tests.rules.language.syntax_strategies import conditions

TWO_S = syntax.NumberExpr(2, "s")
BEACON = syntax.IsExpr(syntax.NameExpr("lights.beacon"), ("on",))
SPEED = syntax.NameExpr("speed")
SET = syntax.BecameExpr(syntax.NameExpr("gear.brake"), "set")

READINGS: tuple[tuple[str, syntax.ConditionExpr], ...] = (
    ("speed > 80 kt", syntax.CompareExpr(SPEED, ">", syntax.NumberExpr(80, "kt"))),
    ("speed>80kt", syntax.CompareExpr(SPEED, ">", syntax.NumberExpr(80, "kt"))),
    (
        "climb > -500 ft/min",
        syntax.CompareExpr(syntax.NameExpr("climb"), ">", syntax.NumberExpr(-500, "ft/min")),
    ),
    (
        "speed -5 kt > 80 kt",
        syntax.CompareExpr(
            syntax.SumExpr(SPEED, "-", syntax.NumberExpr(5, "kt")), ">", syntax.NumberExpr(80, "kt")
        ),
    ),
    ("speed != 0.5", syntax.CompareExpr(SPEED, "!=", syntax.NumberExpr(0.5))),
    (
        "a - b - c = 1",
        syntax.CompareExpr(
            syntax.SumExpr(
                syntax.SumExpr(syntax.NameExpr("a"), "-", syntax.NameExpr("b")), "-", syntax.NameExpr("c")
            ),
            "=",
            syntax.NumberExpr(1),
        ),
    ),
    (
        "a + b * 2 = 1",
        syntax.CompareExpr(
            syntax.SumExpr(syntax.NameExpr("a"), "+", syntax.ScaleExpr(syntax.NameExpr("b"), "*", 2)),
            "=",
            syntax.NumberExpr(1),
        ),
    ),
    (
        "a / 2 * 3 = 1",
        syntax.CompareExpr(
            syntax.ScaleExpr(syntax.ScaleExpr(syntax.NameExpr("a"), "/", 2), "*", 3),
            "=",
            syntax.NumberExpr(1),
        ),
    ),
    ("lights.beacon is on", BEACON),
    ("lights.beacon is not on", syntax.IsExpr(syntax.NameExpr("lights.beacon"), ("on",), negated=True)),
    ("pack is one of (off, 1)", syntax.IsExpr(syntax.NameExpr("pack"), ("off", "1"))),
    ("pack is not one of (off, 1)", syntax.IsExpr(syntax.NameExpr("pack"), ("off", "1"), negated=True)),
    ("pack is one", syntax.IsExpr(syntax.NameExpr("pack"), ("one",))),
    ("runway is 14L", syntax.IsExpr(syntax.NameExpr("runway"), ("14L",))),
    ("runway is trip.runway", syntax.IsExpr(syntax.NameExpr("runway"), ("trip.runway",))),
    ("flow.pumps is met", syntax.IsExpr(syntax.NameExpr("flow.pumps"), ("met",))),
    (
        "p in -5..5 psi",
        syntax.InRangeExpr(syntax.NameExpr("p"), syntax.NumberExpr(-5), syntax.NumberExpr(5, "psi")),
    ),
    (
        "p in limit.a..q + 5 psi",
        syntax.InRangeExpr(
            syntax.NameExpr("p"),
            syntax.NameExpr("limit.a"),
            syntax.SumExpr(syntax.NameExpr("q"), "+", syntax.NumberExpr(5, "psi")),
        ),
    ),
    (
        "p within limit.a of q",
        syntax.WithinExpr(syntax.NameExpr("p"), syntax.NameExpr("limit.a"), syntax.NameExpr("q")),
    ),
    (
        "p within 5 psi of q",
        syntax.WithinExpr(syntax.NameExpr("p"), syntax.NumberExpr(5, "psi"), syntax.NameExpr("q")),
    ),
    ("lights.beacon is on for 2 s", syntax.ForExpr(BEACON, TWO_S)),
    ("lights.beacon is on since gear.brake became set", syntax.SinceExpr(BEACON, SET)),
    (
        "lights.beacon is on for 2 s since gear.brake became set",
        syntax.SinceExpr(syntax.ForExpr(BEACON, TWO_S), SET),
    ),
    ("not lights.beacon is on for 2 s", syntax.NotExpr(syntax.ForExpr(BEACON, TWO_S))),
    (
        "any lights.beacon is on and gear.brake became set",
        syntax.AndExpr((syntax.AnyExpr(BEACON), syntax.OccurredExpr(SET))),
    ),
    (
        "a is on or b is on and c is on",
        syntax.OrExpr(
            (
                syntax.IsExpr(syntax.NameExpr("a"), ("on",)),
                syntax.AndExpr(
                    (
                        syntax.IsExpr(syntax.NameExpr("b"), ("on",)),
                        syntax.IsExpr(syntax.NameExpr("c"), ("on",)),
                    )
                ),
            )
        ),
    ),
    (
        "if a is on then if b is on then c is on",
        syntax.ImpliesExpr(
            syntax.IsExpr(syntax.NameExpr("a"), ("on",)),
            syntax.ImpliesExpr(
                syntax.IsExpr(syntax.NameExpr("b"), ("on",)), syntax.IsExpr(syntax.NameExpr("c"), ("on",))
            ),
        ),
    ),
    ("call.x happened", syntax.OccurredExpr(syntax.HappenedExpr(syntax.NameExpr("call.x")))),
    ("(lights.beacon is on) happened", syntax.OccurredExpr(syntax.HappenedExpr(BEACON))),
    ("(lights.beacon is on) became true", syntax.OccurredExpr(syntax.BecameExpr(BEACON, "true"))),
    (
        "x swept -95..95 %",
        syntax.OccurredExpr(
            syntax.SweptExpr(syntax.NameExpr("x"), syntax.NumberExpr(-95), syntax.NumberExpr(95, "%"))
        ),
    ),
    ("gear.brake became set within the last 2 s", syntax.WithinLastExpr(SET, TWO_S)),
    (
        "gear.brake became set before call.x happened",
        syntax.BeforeAfterExpr(SET, "before", syntax.HappenedExpr(syntax.NameExpr("call.x"))),
    ),
    (
        "gear.brake became set after call.x happened",
        syntax.BeforeAfterExpr(SET, "after", syntax.HappenedExpr(syntax.NameExpr("call.x"))),
    ),
    (
        "size of (a - b) > 1",
        syntax.CompareExpr(
            syntax.SizeExpr(syntax.SumExpr(syntax.NameExpr("a"), "-", syntax.NameExpr("b"))),
            ">",
            syntax.NumberExpr(1),
        ),
    ),
    (
        "highest(speed, 2 s) > 1",
        syntax.CompareExpr(syntax.WindowExpr("highest", SPEED, TWO_S), ">", syntax.NumberExpr(1)),
    ),
    (
        "count(gear.brake became set, 2 s) > 1",
        syntax.CompareExpr(syntax.CountExpr(SET, TWO_S), ">", syntax.NumberExpr(1)),
    ),
)


@pytest.mark.parametrize(("text", "wanted"), READINGS)
def test_a_form_reads_as_its_tree(text: str, wanted: syntax.ConditionExpr) -> None:
    """Each form gives its tree, with its binding."""
    assert parse(text) == wanted


def test_words_of_the_language_may_be_parts_of_names() -> None:
    """`cabin.rate` and `if.not.and` are names: a keyword is reserved only as a whole name."""
    assert parse("cabin.rate > 5") == syntax.CompareExpr(
        syntax.NameExpr("cabin.rate"), ">", syntax.NumberExpr(5)
    )
    assert parse("x.if.not.and is on") == syntax.IsExpr(syntax.NameExpr("x.if.not.and"), ("on",))


def test_nodes_have_offsets() -> None:
    """Nodes have the offset of their first character, and of words that are no nodes."""
    text = "lights.beacon is one of (on, off) and hydraulic.pressure in 5..9 psi for 2 s"
    read = parse(text)
    assert isinstance(read, syntax.AndExpr)
    first, second = read.parts
    assert isinstance(second, syntax.ForExpr)
    assert first.part_offsets == (text.index("on,"), text.index("off"))
    assert text[second.part.offset :].startswith("hydraulic.pressure in")
    assert isinstance(second.part, syntax.InRangeExpr)
    assert [text[end.offset] for end in (second.part.low, second.part.high)] == ["5", "9"]
    assert text[second.span.offset :] == "2 s"


@settings(deadline=None)
@given(conditions)
def test_every_offset_is_inside_the_text(written: syntax.ConditionExpr) -> None:
    """Every offset of a node is inside the text."""
    text = format_condition(written)
    waiting: list[syntax.SyntaxNode] = [parse(text)]
    while waiting:
        node = waiting.pop()
        assert all(0 <= at < len(text) for at in (node.offset, *node.part_offsets))
        waiting.extend(children(node))


def _problem(text: str) -> ParseError | None:
    """Error of a text, None where it is a condition."""
    try:
        parse(text)
    except ParseError as problem:
        return problem
    return None


@settings(deadline=None)
@given(st.text(alphabet=string.ascii_lowercase + "0123456789.()<>=!*/+-,%_ \n&≤\0é", max_size=60))
def test_any_text_is_read_or_refused_in_its_place(text: str) -> None:
    """Any text is a condition or an error with an offset inside it, never another exception."""
    problem = _problem(text)
    assert problem is None or (problem.what and 0 <= problem.offset <= len(text))


@settings(deadline=None)
@given(conditions, st.data())
def test_a_cut_condition_is_refused_in_its_place(written: syntax.ConditionExpr, data: st.DataObject) -> None:
    """A condition cut off anywhere is parsed or refused, never another exception."""
    text = format_condition(written)
    cut = text[: data.draw(st.integers(0, len(text)))]
    problem = _problem(cut)
    assert problem is None or 0 <= problem.offset <= len(cut)


@pytest.mark.parametrize(
    "text",
    [
        "not " * MAX_DEPTH + "a is on",
        "a is on" + " for 2 s" * MAX_DEPTH,
        "a" + " + a" * MAX_DEPTH + " > 3",
        "if a is on then " * MAX_DEPTH + "a is on",
        "highest(" * MAX_DEPTH + "a" + ", 2 s)" * MAX_DEPTH + " > 3",
    ],
    ids=["not", "for", "sum", "if", "highest"],
)
def test_a_tree_that_is_too_deep_is_refused(text: str) -> None:
    """Nesting beyond the limit is refused, in every form, so that no recursion overflows the stack."""
    with pytest.raises(ParseError, match="nested too deeply"):
        parse(text)


def test_brackets_alone_add_no_depth() -> None:
    """A thousand brackets around a condition add no depth."""
    assert parse("(" * 1000 + "lights.beacon is on" + ")" * 1000) == BEACON


def test_a_condition_that_is_too_long_is_refused() -> None:
    """A condition is refused beyond its maximum length, and parsed at it."""
    text = "lights.beacon is on"
    assert parse(text.ljust(MAX_LENGTH)) == BEACON
    with pytest.raises(ParseError, match="too long"):
        parse(text.ljust(MAX_LENGTH + 1))


@pytest.mark.parametrize("text", ["", "  \n\t"])
def test_an_empty_condition_is_refused(text: str) -> None:
    """An empty text is refused."""
    with pytest.raises(ParseError, match="the condition is empty"):
        parse(text)


@pytest.mark.parametrize("number", ["9" * 400, "9999999999999", "0." + "0" * 20 + "1"])
def test_a_number_beyond_every_instrument_is_refused(number: str) -> None:
    """A number that could overflow in a conversion is refused at its place."""
    with pytest.raises(ParseError, match="the number is too") as caught:
        parse(f"speed > {number} kt")
    assert caught.value.offset == 8


def test_the_message_joins_place_fault_and_hint() -> None:
    """The message has the place, the problem, the expected input and the hint."""
    with pytest.raises(ParseError) as caught:
        parse("speed > .5 kt")
    assert str(caught.value) == (
        "at character 9: `.5` does not fit here, expected a name, a number or a window such as `highest(...)`"
        " (write a digit before the point, such as 0.5)"
    )
