"""The parser reads what the guide for authors promises, and refuses the rest in its place.

Takes: texts.  Gives: trees, or problems.
"""

from __future__ import annotations

import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.language import tree
from rules.language.parse import DEEPEST, LONGEST, ParseProblem, children, parse
from rules.language.printer import write
from tests.rules.language.trees import conditions

TWO_S = tree.Number(2, "s")
BEACON = tree.Is(tree.Name("lights.beacon"), ("on",))
SPEED = tree.Name("speed")
SET = tree.Became(tree.Name("gear.brake"), "set")

READINGS: tuple[tuple[str, tree.Condition], ...] = (
    ("speed > 80 kt", tree.Compare(SPEED, ">", tree.Number(80, "kt"))),
    ("speed>80kt", tree.Compare(SPEED, ">", tree.Number(80, "kt"))),
    ("climb > -500 ft/min", tree.Compare(tree.Name("climb"), ">", tree.Number(-500, "ft/min"))),
    (
        "speed -5 kt > 80 kt",
        tree.Compare(tree.Sum(SPEED, "-", tree.Number(5, "kt")), ">", tree.Number(80, "kt")),
    ),
    ("speed != 0.5", tree.Compare(SPEED, "!=", tree.Number(0.5))),
    (
        "a - b - c = 1",
        tree.Compare(
            tree.Sum(tree.Sum(tree.Name("a"), "-", tree.Name("b")), "-", tree.Name("c")), "=", tree.Number(1)
        ),
    ),
    (
        "a + b * 2 = 1",
        tree.Compare(tree.Sum(tree.Name("a"), "+", tree.Scaled(tree.Name("b"), "*", 2)), "=", tree.Number(1)),
    ),
    (
        "a / 2 * 3 = 1",
        tree.Compare(tree.Scaled(tree.Scaled(tree.Name("a"), "/", 2), "*", 3), "=", tree.Number(1)),
    ),
    ("lights.beacon is on", BEACON),
    ("lights.beacon is not on", tree.Is(tree.Name("lights.beacon"), ("on",), negated=True)),
    ("pack is one of (off, 1)", tree.Is(tree.Name("pack"), ("off", "1"))),
    ("pack is not one of (off, 1)", tree.Is(tree.Name("pack"), ("off", "1"), negated=True)),
    ("pack is one", tree.Is(tree.Name("pack"), ("one",))),
    ("runway is 14L", tree.Is(tree.Name("runway"), ("14L",))),
    ("runway is trip.runway", tree.Is(tree.Name("runway"), ("trip.runway",))),
    ("flow.pumps is met", tree.Is(tree.Name("flow.pumps"), ("met",))),
    ("p in -5..5 psi", tree.InRange(tree.Name("p"), -5, 5, "psi")),
    ("p within 5 psi of q", tree.Near(tree.Name("p"), tree.Number(5, "psi"), tree.Name("q"))),
    ("lights.beacon is on for 2 s", tree.Held(BEACON, TWO_S)),
    ("lights.beacon is on since gear.brake became set", tree.Since(BEACON, SET)),
    ("lights.beacon is on for 2 s since gear.brake became set", tree.Since(tree.Held(BEACON, TWO_S), SET)),
    ("not lights.beacon is on for 2 s", tree.Opposite(tree.Held(BEACON, TWO_S))),
    ("any lights.beacon is on and gear.brake became set", tree.All((tree.AnyOf(BEACON), tree.Occurred(SET)))),
    (
        "a is on or b is on and c is on",
        tree.Either(
            (
                tree.Is(tree.Name("a"), ("on",)),
                tree.All((tree.Is(tree.Name("b"), ("on",)), tree.Is(tree.Name("c"), ("on",)))),
            )
        ),
    ),
    (
        "if a is on then if b is on then c is on",
        tree.Implies(
            tree.Is(tree.Name("a"), ("on",)),
            tree.Implies(tree.Is(tree.Name("b"), ("on",)), tree.Is(tree.Name("c"), ("on",))),
        ),
    ),
    ("call.x happened", tree.Occurred(tree.Happened(tree.Name("call.x")))),
    ("(lights.beacon is on) happened", tree.Occurred(tree.Happened(BEACON))),
    ("(lights.beacon is on) became true", tree.Occurred(tree.Became(BEACON, "true"))),
    ("x swept -95..95 %", tree.Occurred(tree.Swept(tree.Name("x"), -95, 95, "%"))),
    ("gear.brake became set within the last 2 s", tree.Recent(SET, TWO_S)),
    (
        "gear.brake became set before call.x happened",
        tree.Order(SET, "before", tree.Happened(tree.Name("call.x"))),
    ),
    (
        "gear.brake became set after call.x happened",
        tree.Order(SET, "after", tree.Happened(tree.Name("call.x"))),
    ),
    ("highest(speed, 2 s) > 1", tree.Compare(tree.Window("highest", SPEED, TWO_S), ">", tree.Number(1))),
    ("count(gear.brake became set, 2 s) > 1", tree.Compare(tree.CountOf(SET, TWO_S), ">", tree.Number(1))),
)


@pytest.mark.parametrize(("text", "wanted"), READINGS)
def test_a_form_reads_as_its_tree(text: str, wanted: tree.Condition) -> None:
    """Each form gives the tree that the guide describes, with its binding."""
    assert parse(text) == wanted


def test_words_of_the_language_may_be_parts_of_names() -> None:
    """`cabin.rate` and `if.not.and` are names: only a word alone belongs to the language."""
    assert parse("cabin.rate > 5") == tree.Compare(tree.Name("cabin.rate"), ">", tree.Number(5))
    assert parse("x.if.not.and is on") == tree.Is(tree.Name("x.if.not.and"), ("on",))


def test_nodes_know_where_they_stand() -> None:
    """Nodes carry the offset of their first character, and of words and limits that are no nodes."""
    text = "lights.beacon is one of (on, off) and hydraulic.pressure in 5..9 psi for 2 s"
    read = parse(text)
    assert isinstance(read, tree.All)
    first, second = read.parts
    assert isinstance(second, tree.Held)
    assert first.marks == (text.index("on,"), text.index("off"))
    assert text[second.part.at :].startswith("hydraulic.pressure in")
    assert [text[at] for at in second.part.marks] == ["5", "9"]
    assert text[second.span.at :] == "2 s"


@settings(deadline=None)
@given(conditions)
def test_every_node_stands_inside_its_text(written: tree.Condition) -> None:
    """No offset of a node or mark lies outside the text."""
    text = write(written)
    waiting: list[tree.Node] = [parse(text)]
    while waiting:
        node = waiting.pop()
        assert all(0 <= at < len(text) for at in (node.at, *node.marks))
        waiting.extend(children(node))


def _problem(text: str) -> ParseProblem | None:
    """The problem of a text, None where it is a condition."""
    try:
        parse(text)
    except ParseProblem as problem:
        return problem
    return None


@settings(deadline=None)
@given(st.text(alphabet=string.ascii_lowercase + "0123456789.()<>=!*/+-,%_ \n&≤\0é", max_size=60))
def test_any_text_is_read_or_refused_in_its_place(text: str) -> None:
    """Whatever the text, it is a condition or a problem with an offset inside it, never another error."""
    problem = _problem(text)
    assert problem is None or (problem.what and 0 <= problem.offset <= len(text))


@settings(deadline=None)
@given(conditions, st.data())
def test_a_cut_condition_is_refused_in_its_place(written: tree.Condition, data: st.DataObject) -> None:
    """A condition that is cut off anywhere is read or refused, never another error."""
    text = write(written)
    cut = text[: data.draw(st.integers(0, len(text)))]
    problem = _problem(cut)
    assert problem is None or 0 <= problem.offset <= len(cut)


@pytest.mark.parametrize(
    "text",
    [
        "not " * DEEPEST + "a is on",
        "a is on" + " for 2 s" * DEEPEST,
        "a" + " + a" * DEEPEST + " > 3",
        "if a is on then " * DEEPEST + "a is on",
        "highest(" * DEEPEST + "a" + ", 2 s)" * DEEPEST + " > 3",
    ],
    ids=["not", "for", "sum", "if", "highest"],
)
def test_a_tree_that_is_too_deep_is_refused(text: str) -> None:
    """Nesting beyond the limit is refused, whatever it is made of, so that no walk runs out of stack."""
    with pytest.raises(ParseProblem, match="nested too deeply"):
        parse(text)


def test_brackets_alone_make_no_depth() -> None:
    """A thousand brackets around a condition are the condition."""
    assert parse("(" * 1000 + "lights.beacon is on" + ")" * 1000) == BEACON


def test_a_condition_that_is_too_long_is_refused() -> None:
    """A condition is refused beyond its longest, and read at it."""
    text = "lights.beacon is on"
    assert parse(text.ljust(LONGEST)) == BEACON
    with pytest.raises(ParseProblem, match="too long"):
        parse(text.ljust(LONGEST + 1))


@pytest.mark.parametrize("text", ["", "  \n\t"])
def test_an_empty_condition_is_refused(text: str) -> None:
    """Nothing is no condition."""
    with pytest.raises(ParseProblem, match="the condition is empty"):
        parse(text)


@pytest.mark.parametrize("number", ["9" * 400, "9999999999999", "0." + "0" * 20 + "1"])
def test_a_number_beyond_every_instrument_is_refused(number: str) -> None:
    """A number that could overflow in a conversion is refused where it stands."""
    with pytest.raises(ParseProblem, match="the number is too") as caught:
        parse(f"speed > {number} kt")
    assert caught.value.offset == 8


def test_the_message_joins_place_fault_and_hint() -> None:
    """Printed alone, a problem says where, what, what was expected, and what to write."""
    with pytest.raises(ParseProblem) as caught:
        parse("speed > .5 kt")
    assert str(caught.value) == (
        "at character 9: `.5` does not fit here, expected a name, a number or `highest(...)` and its kin"
        " (write a digit before the point, such as 0.5)"
    )
