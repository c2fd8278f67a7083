"""A rule with a `*` is taken apart into its matches: together they mean the rule, and each is about one match."""

from __future__ import annotations

import pytest
from hypothesis import assume, example, given, settings

from rules.faults import InputFaults
from rules.language import checked_tree
from rules.language.check import check, find_conflicts, find_matches
from rules.language.check.matches import REST
from rules.language.online import Monitors
from rules.language.traversal import signal_names
from tests.rules.language.batch.column_run import ColumnRun
from tests.rules.language.check.test_wildcards import SCOPE, SIGNALS, texts, traces
from tests.rules.language.condition_strategies import SampleStore
from tests.rules.language.oracle import Oracle
from tests.rules.language.oracle_histories import Step
from tests.rules.language.scopes import SCOPES, at

SMALL = SCOPES["small"]


def _signals(main: str, second: str | None = None) -> dict[str, tuple[str, ...]]:
    """Signals that each match of a rule reads, by its word."""
    return {
        match.word: signal_names(
            check(main, SMALL, at(main), match),
            *([check(second, SMALL, at(second), match)] if second and match.shared else []),
        )
        for match in find_matches(main, second, SMALL)
    }


@pytest.mark.parametrize(
    ("main", "words"),
    [
        ("engine.*.n2 > 5 %", ["1", "2"]),
        ("pump.*.switch is on and pump.*.low_pressure is off", ["left", "centre", "right"]),
        ("pump.*.switch is on and lights.beacon is on", ["left", "centre", "right", REST]),
        ("pump.*.switch is on and engine.*.n2 > 5 %", ["left", "centre", "right", "1", "2"]),
        ("pump.*.switch is on and fuel.* > 5 kg", ["left", "centre", "right", "total"]),
        ("engine.*.n2 > 5 % for 2 s", ["1", "2"]),
        ("engine.*.n2 > 5 % or speed > 40 kt", ["1", "2"]),
        ("if lights.beacon is on then engine.*.n2 > 5 %", ["1", "2"]),
        ("if engine.*.n2 > 5 % then engine.*.lever is open", ["1", "2"]),
        ("if engine.*.n2 > 5 % then lights.beacon is on", [""]),
        ("any engine.*.n2 > 5 %", [""]),
        ("engine.*.n2 > 5 % and not engine.*.lever is open", ["1", "2"]),
        ("engine.*.n2 > 5 % and (if engine.*.lever is open then speed > 5 kt)", ["1", "2"]),
        ("(engine.*.n2 > 5 % and not engine.*.lever is open) for 2 s and speed > 5 kt", ["1", "2", REST]),
        ("not any engine.*.n2 > 5 %", [""]),
        ("engine.*.n2 > 5 % or pump.*.switch is on", [""]),
        ("speed > 5 kt", [""]),
        ("speed >", [""]),
    ],
)
def test_words(main: str, words: list[str]) -> None:
    """The words are those of the `*` that can be taken apart, the rest last."""
    assert [match.word for match in find_matches(main, None, SMALL)] == words


def test_each_match_reads_its_own_signals() -> None:
    """A match has its part of every condition in an `and`; the rest has no `*`."""
    assert _signals("pump.*.switch is on and (engine.1.n2 > 5 % or pump.*.low_pressure is off) and speed > 1 kt") == {
        "left": ("pump.left.switch", "engine.1.n2", "pump.left.low_pressure"),
        "centre": ("pump.centre.switch", "engine.1.n2", "pump.centre.low_pressure"),
        "right": ("pump.right.switch", "engine.1.n2", "pump.right.low_pressure"),
        REST: ("speed",),
    }  # fmt: skip


def test_a_wildcard_of_both_conditions_is_one() -> None:
    """What applies and what is expected are of one engine, and the expected condition stays whole."""
    assert _signals("not (engine.*.egt > 5 degC and speed > 1 kt)", "engine.*.n2 > 5 %") == {
        "1": ("engine.1.egt", "speed", "engine.1.n2"),
        "2": ("engine.2.egt", "speed", "engine.2.n2"),
    }


def test_any_of_the_second_condition_is_its_own() -> None:
    """An `any` in the second condition leaves the main one alone."""
    matches = find_matches("lights.beacon is on", "any engine.*.n2 > 5 %", SMALL)
    assert [match.word for match in matches] == [""]
    matches = find_matches("engine.*.lever is open", "any engine.*.n2 > 5 %", SMALL)
    assert [(match.word, match.shared) for match in matches] == [("1", False), ("2", False)]


@pytest.mark.parametrize(
    ("main", "second", "what"),
    [
        ("fuel.* > 5 kg", "pump.*.switch is on", "the `*` of fuel.* (total, left and right) is not that of pump.*.switch"),
        (
            "engine.*.n2 > 5 % and pump.*.switch is on",
            "pump.*.low_pressure is off and engine.*.lever is open",
            "both conditions have the same two `*`",
        ),
    ],
)  # fmt: skip
def test_conditions_that_conflict(main: str, second: str, what: str) -> None:
    """Two `*` that look alike, and two that both conditions have, are faults with a hint."""
    (fault,) = find_conflicts(main, second, SMALL, at(main))
    assert fault.what.startswith(what)
    assert fault.hint
    assert find_conflicts(main, "engine.1.n2 > 5 %", SMALL, at(main)) == []


@settings(max_examples=300, deadline=None)
@given(texts, traces())
@example("e.*.s is on and (lamp is on or e.valve.* is on) and door.* is on", [Step(8.0, {"e.1.s": "off"})])
def test_all_matches_together_are_the_rule(text: str, trace: list[Step]) -> None:
    """At every step the rule has the truth of an `and` of its matches, in both evaluators and in the oracle."""
    try:
        whole = check(text, SCOPE, at(text))
    except InputFaults:
        assume(condition=False)
    matches = find_matches(text, None, SCOPE)
    assume(len(matches) > 1)
    parts = {match.word: check(text, SCOPE, at(text), match) for match in matches}
    joined = checked_tree.And(tuple(parts.values()))
    state, columns = SampleStore(), ColumnRun(parts, trace, SIGNALS)
    online = Monitors(parts, state)
    for number, (step, _) in enumerate(zip(trace, columns, strict=True), start=1):
        online.advance(step.at_s, state.apply(step), step.calls)
        oracle = Oracle(trace[:number])
        assert oracle.truth(joined) is oracle.truth(whole)
        for word, part in parts.items():
            assert online.truth(word) is columns.monitors.truth(word) is oracle.truth(part)
