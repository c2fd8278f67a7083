"""Reasons are complete, plain and repeatable for any condition."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings

from rules.faults import Fault, Place
from rules.language.checked_tree import (
    And,
    BeforeAfter,
    CallEvent,
    Condition,
    FaultyCondition,
    ItemMet,
    Not,
    Once,
    Rise,
    SameWord,
    Since,
    TimedHistorically,
    TimedOnce,
    Whenever,
    WordIs,
)
from rules.language.explain.clauses import clause, has_or_have, is_or_are, past_clause, perfect_clause
from rules.language.online import Monitors
from rules.language.truth import Reason
from tests.rules.language.condition_strategies import (
    CHOICES,
    SIGNALS,
    SWITCHES,
    SampleStore,
    conditions,
    run,
    steps,
)
from tests.rules.language.oracle_histories import Step

ON = WordIs(SWITCHES[0], ("on",))
PUSH = CallEvent("p", "push")


def _explained(condition: Condition, *trace: Step) -> Reason:
    picture = SampleStore()
    monitors = Monitors({"it": condition}, picture)
    run(monitors, picture, trace)
    return monitors.explain("it")


def _all_parts(reason: Reason) -> list[Reason]:
    return [reason, *(inner for part in reason.parts for inner in _all_parts(part))]


@settings(max_examples=300, deadline=None)
@given(conditions, steps())
def test_every_condition_has_a_reason(condition: Condition, trace: list[Step]) -> None:
    """The reason has the condition's truth, a complete sentence, known signals, and is the same when asked again."""
    picture = SampleStore()
    monitors = Monitors({"it": condition}, picture)
    for step in trace:
        monitors.advance(step.at_s, picture.apply(step), step.calls, step.speakers)
        reason = monitors.explain("it")
        assert reason.truth is monitors.truth("it")
        for part in _all_parts(reason):
            assert part.sentence
            assert "None" not in part.sentence + part.actual + part.wanted
            assert "  " not in part.sentence
            assert set(part.signals) <= set(SIGNALS)
        assert monitors.explain("it") == reason


@settings(max_examples=100, deadline=None)
@given(conditions, steps())
def test_explaining_changes_no_truth(condition: Condition, trace: list[Step]) -> None:
    """Explaining a condition changes no truth."""
    explained, unexplained = SampleStore(), SampleStore()
    one, two = Monitors({"it": condition}, explained), Monitors({"it": condition}, unexplained)
    for step in trace:
        one.advance(step.at_s, explained.apply(step), step.calls, step.speakers)
        one.explain("it")
        two.advance(step.at_s, unexplained.apply(step), step.calls, step.speakers)
        assert one.truth("it") is two.truth("it")


def test_a_reason_names_the_signals_that_decided() -> None:
    """The reason of an `and` names the signals of the parts that are not true."""
    both = And((ON, WordIs(SWITCHES[1], ("on",))))
    reason = _explained(both, Step(0.0, {"a": "on", "b": "off"}))
    assert reason.signals == ("b",)


def test_each_part_that_is_not_true_has_its_own_reason() -> None:
    """Where several parts are not true, each has its own reason."""
    both = And((ON, WordIs(SWITCHES[1], ("on",))))
    reason = _explained(both, Step(0.0, {"a": "off", "b": "off"}))
    assert [part.sentence for part in reason.parts] == [
        "label of a is off",
        "label of b is off",
    ]


def test_a_faulty_condition_explains_its_fault() -> None:
    """A condition that could not be checked is unknown, with its fault as the reason."""
    broken = FaultyCondition(Fault(Place("pack.yaml", 3, 5), "unknown name lights.becon", "a signal"))
    reason = _explained(broken, Step(0.0, {}))
    assert (reason.truth, reason.sentence) == (None, "cannot be judged: unknown name lights.becon")


def test_an_event_has_a_wanted_text() -> None:
    """The reason of an event has both halves: actual and wanted."""
    missing = _explained(Once(PUSH), Step(0.0, {}))
    assert (missing.actual, missing.wanted) == ("push has not been called", "push was called")
    late = _explained(TimedOnce(PUSH, 5.0), Step(0.0, {}), Step(9.0, {}))
    assert late.wanted == "push was called in the last 5 s"
    order = _explained(BeforeAfter(PUSH, "before", Rise(ON)), Step(0.0, {}))
    assert order.wanted == f"push was called before {past_clause(Rise(ON))}"


def test_before_the_first_step() -> None:
    """Monitors can explain before their first step."""
    monitors = Monitors({"it": And((ON, Once(PUSH)))}, SampleStore())
    assert monitors.explain("it").truth is None


@pytest.mark.parametrize(
    ("label", "verb"),
    [
        ("beacon", "is"),
        ("strobe lights", "are"),
        ("standby bus", "is"),
        ("AC bus 1", "is"),
        ("engine 1 N1", "is"),
        ("flight path bias", "are"),
    ],
)
def test_the_verb_follows_the_label(label: str, verb: str) -> None:
    """A label whose last word ends like a plural takes `are`: a rule of thumb, not a dictionary."""
    assert is_or_are(label) == verb
    assert has_or_have(label) == {"is": "has", "are": "have"}[verb]


@pytest.mark.parametrize(
    ("condition", "text"),
    [
        (TimedHistorically(ON, 2.0), "label of a is on for 2 s"),
        (Not(ON), "not (label of a is on)"),
        (BeforeAfter(PUSH, "before", Rise(ON)), "push was called before label of a became on"),
        (Since(ON, PUSH), "label of a is on since push was called"),
        (SameWord(CHOICES[0], CHOICES[1]), "label of c agrees with label of d"),
        (ItemMet("flow.f.k", "Pumps"), "Pumps met"),
        (Once(Whenever(And((ON, ON)))), "it was true that label of a is on and label of a is on"),
    ],
)
def test_clauses(condition: Condition, text: str) -> None:
    """A condition inside a sentence about time is a clause."""
    assert clause(condition) == text


def test_events_in_past_and_perfect() -> None:
    """Clauses for an event that happened, and for one that did not."""
    assert past_clause(PUSH) == "push was called"
    assert perfect_clause(PUSH, happened=False) == "push has not been called"
    push_by_ground = replace(PUSH, speaker="ground", missing="no push clearance")
    assert perfect_clause(push_by_ground, happened=False) == "no push clearance by ground"
    assert perfect_clause(push_by_ground, happened=True) == "push has been called by ground"
    assert (
        perfect_clause(Rise(TimedHistorically(ON, 2.0)), happened=True)
        == "it has become true that label of a is on for 2 s"
    )
