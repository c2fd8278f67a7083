"""The assumption over short gaps clears a crew, and never accuses it."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

import pytest
from hypothesis import example, given, settings

from rules.language import checked_tree as c
from rules.language.assumptions import with_assumptions
from rules.language.check import check
from rules.language.online import Monitors
from rules.language.truth import Truth
from rules.signals.model import LONGEST_BRIDGED_GAP_S
from tests.rules.language.condition_strategies import (
    LOSSY,
    SWITCHES,
    SampleStore,
    advance,
    conditions,
    steps,
)
from tests.rules.language.oracle_histories import Step
from tests.rules.language.scopes import SCOPES, at

A, C = c.WordIs(SWITCHES[0], ("on",)), c.CallEvent("p", "P")


def _neutral(node: Any) -> Any:  # noqa: ANN401 - any part of a tree
    """Copy of a tree in which no truth rests on the assumption."""
    if isinstance(node, tuple):
        return tuple(map(_neutral, node))
    if not is_dataclass(node) or isinstance(node, type):
        return node
    changed = {field.name: _neutral(getattr(node, field.name)) for field in fields(node)}
    return replace(node, **{**changed, **({"assumes": None} if "assumes" in changed else {})})


@settings(max_examples=300, deadline=None)
@given(conditions, steps())
@example(
    c.Not(c.BeforeAfter(c.Rise(A), "after", C)),
    [Step(8.0, {"a": "off"}, ("p",)), Step(10.0, {}, missing_from_s=9.0)],
)
@example(c.Once(c.Rise(A)), [Step(8.0, {"a": "off"}), Step(10.0, {}, missing_from_s=9.0)])
def test_the_assumption_makes_only_the_unknown_true(drawn: c.Condition, trace: list[Step]) -> None:
    """What is known without it stays, and no condition becomes false by it."""
    strict = _neutral(drawn)
    picture = SampleStore()
    monitors = Monitors({"strict": strict, "checked": with_assumptions(strict)}, picture, lossy=LOSSY)
    for step in trace:
        advance(monitors, step, picture.apply(step))
        known, truth = monitors.truth("strict"), monitors.truth("checked")
        assert truth is known or (known is None and truth is True)


@pytest.mark.parametrize("later_s", [LONGEST_BRIDGED_GAP_S, LONGEST_BRIDGED_GAP_S + 0.25])
@pytest.mark.parametrize(("before", "after"), [("off", "off"), ("on", "on"), ("on", "off"), ("off", None)])
def test_which_gaps_are_bridged(later_s: float, before: str, after: str | None) -> None:
    """A gap is bridged that is short and has the same known value on both sides, in the whole of it."""
    fallen = c.BeforeAfter(c.Rise(A), "after", C)
    trace = [
        Step(8.0, {"a": "off"}),
        Step(9.0, {"a": before}),
        Step(10.0, {}, ("p",)),
        Step(11.0 + later_s, {"a": after} if after != before else {}, missing_from_s=11.0),
    ]
    picture = SampleStore()
    monitors = Monitors({"it": with_assumptions(c.Not(fallen))}, picture, lossy=LOSSY)
    for step in trace:
        advance(monitors, step, picture.apply(step))
    wanted: Truth = True if later_s == LONGEST_BRIDGED_GAP_S and before == after else None
    assert monitors.truth("it") is wanted


@pytest.mark.parametrize(
    ("text", "assumed"),
    [
        ("call.cleared happened", [True]),
        ("not call.cleared happened", [False]),
        ("if call.cleared happened then gear.brake became set", [False, True]),
        ("(not call.cleared happened) for 2 s since gear.brake became set", [True, False]),
        ("at least 1 of (call.cleared happened, gear.brake became set)", [True, True]),
        ("at most 1 of (call.cleared happened, gear.brake became set)", [False, False]),
        ("exactly 1 of (call.cleared happened, gear.brake became set)", [None, None]),
        ("not gear.brake became set after call.cleared happened", [False]),
        ("not lights.beacon is on within 5 s after call.cleared happened", [False]),
        ("(gear.brake became set after call.cleared happened) became true", [True, None]),
        ("count((call.cleared happened) became true, 5 s) > 2", [None]),
    ],
)
def test_which_truth_may_rest_on_it(text: str, assumed: list[Truth]) -> None:
    """True of what must be true, false under `not`, neither inside of events."""

    def below(node: Any) -> list[Truth]:  # noqa: ANN401 - any part of a tree
        if isinstance(node, tuple):
            return [truth for part in node for truth in below(part)]
        if not is_dataclass(node) or isinstance(node, type):
            return []
        own = [node.assumes] if hasattr(node, "assumes") else []
        return own + [truth for field in fields(node) for truth in below(getattr(node, field.name))]

    assert below(check(text, SCOPES["small"], at(text))) == assumed
