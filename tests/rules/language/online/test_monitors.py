"""Properties of the online evaluator, and its edge cases: items, calls, time, circles of references."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.language.checked_tree import (
    And,
    CallEvent,
    Condition,
    Implies,
    ItemMet,
    Not,
    Once,
    Or,
    TimedHistorically,
    TimedOnce,
    WordIs,
)
from rules.language.online import Monitors
from rules.language.truth import Truth
from rules.signals.model import Value
from tests.rules.language.condition_strategies import (
    SIGNALS,
    SWITCHES,
    SampleStore,
    conditions,
    run,
    steps,
    value_of,
)
from tests.rules.language.oracle_histories import Step

LAWS = settings(max_examples=100, deadline=None)
ON = WordIs(SWITCHES[0], ("on",))
OTHER = WordIs(SWITCHES[1], ("on",))
NO_SIGN: Mapping[str, Value] = {"a": "off", "b": "off"}


def _truths(several: Mapping[str, Condition], trace: list[Step]) -> list[dict[str, Truth]]:
    """Truths after each step."""
    picture = SampleStore()
    monitors = Monitors(several, picture)
    found = []
    for step in trace:
        monitors.advance(step.at_s, picture.apply(step), step.calls, step.speakers)
        found.append({name: monitors.truth(name) for name in several})
    return found


@LAWS
@given(conditions, conditions, conditions, steps())
def test_kleene_laws(p: Condition, q: Condition, r: Condition, trace: list[Step]) -> None:
    """De Morgan, absorption, distribution, double negation and contraposition are true at every step."""
    laws: dict[str, tuple[Condition, Condition]] = {
        "de morgan, and": (Not(And((p, q))), Or((Not(p), Not(q)))),
        "de morgan, or": (Not(Or((p, q))), And((Not(p), Not(q)))),
        "absorption, and": (And((p, Or((p, q)))), p),
        "absorption, or": (Or((p, And((p, q)))), p),
        "distribution": (And((p, Or((q, r)))), Or((And((p, q)), And((p, r))))),
        "double negation": (Not(Not(p)), p),
        "contraposition": (Implies(p, q), Implies(Not(q), Not(p))),
        "if": (Implies(p, q), Or((Not(p), q))),
        "order of parts": (And((p, q, r)), And((r, p, q))),
    }
    sides = {f"{name} {side}": pair[side] for name, pair in laws.items() for side in (0, 1)}
    for truths in _truths(sides, trace):
        for name in laws:
            assert truths[f"{name} 0"] is truths[f"{name} 1"], name


@st.composite
def _two_traces(draw: st.DrawFn) -> tuple[list[Step], list[Step]]:
    """Two traces: one with gaps, one with data in the gaps; both begin with all signals known."""
    trace = draw(steps())
    known: dict[str, Value] = {name: _draw_value(draw, name) for name in sorted(SIGNALS)}
    gapped, filled, lost = [Step(7.0, known)], [Step(7.0, known)], set[str]()
    for step in trace:
        lost = (lost - step.values.keys()) | {name for name, value in step.values.items() if value is None}
        more: dict[str, float | str | None] = dict(step.values)
        for name in sorted(lost):
            if step.values.get(name, "") is None or draw(st.booleans()):
                more[name] = _draw_value(draw, name)
        gapped.append(step)
        filled.append(Step(step.at_s, more, step.calls, speakers=step.speakers))
    return gapped, filled


def _draw_value(draw: st.DrawFn, name: str) -> Value:
    """Value that the signal can have."""
    value = draw(value_of(name).filter(lambda one: one is not None))
    assert value is not None
    return value


@settings(max_examples=300, deadline=None)
@given(conditions, _two_traces())
def test_data_in_gaps_never_reverses_a_result(
    condition: Condition, traces: tuple[list[Step], list[Step]]
) -> None:
    """A result that is true or false with gaps is the same with any data in the gaps."""
    gapped, filled = (_truths({"it": condition}, trace) for trace in traces)
    for less, more in zip(gapped, filled, strict=True):
        assert less["it"] is None or less["it"] is more["it"]


def test_an_item_is_its_condition() -> None:
    """`ITEM is met` follows the condition of that id in the same step."""
    truths = _truths(
        {"flow.f.beacon": ON, "reads": TimedHistorically(ItemMet("flow.f.beacon", "Beacon"), 1.0)},
        [Step(0.0, {"a": "on"}), Step(0.5, {}), Step(1.0, {}), Step(1.25, {"a": "off"})],
    )
    assert [each["reads"] for each in truths] == [None, None, True, False]


def test_an_item_from_outside() -> None:
    """An id without a condition is unknown until its truth is set."""
    picture = SampleStore()
    monitors = Monitors({"reads": ItemMet("flow.f.documents", "Documents")}, picture)
    assert monitors.advance(0.0, []) == set()
    monitors.set_item_truth("flow.f.documents", truth=True)
    assert monitors.advance(1.0, []) == {"reads"}
    assert monitors.truth("reads") is True
    monitors.restart()
    assert monitors.truth("reads") is None
    monitors.advance(0.0, [])
    assert monitors.truth("reads") is True


def test_the_truth_of_a_waived_item_is_set_from_outside() -> None:
    """The truth set for a waived item counts for conditions that refer to it, but not for its own condition."""
    picture = SampleStore()
    monitors = Monitors({"one": ON, "two": ItemMet("one", "One")}, picture)
    monitors.set_item_truth("one", truth=True)
    monitors.advance(0.0, picture.apply(Step(0.0, {"a": "off"})))
    assert (monitors.truth("one"), monitors.truth("two")) == (False, True)


def test_a_circle_of_items_is_refused() -> None:
    """References that run in a circle are refused and named."""
    circle: dict[str, Condition] = {"x": ItemMet("y", "Y"), "y": And((ON, ItemMet("x", "X")))}
    with pytest.raises(ValueError, match="x -> y -> x"):
        Monitors(circle, SampleStore())


def test_an_unknown_call_is_ignored() -> None:
    """A call that no condition reads changes nothing."""
    picture = SampleStore()
    monitors = Monitors({"it": Once(CallEvent("p", "P"))}, picture)
    assert monitors.advance(0.0, [], ["nobody"]) == {"it"}
    assert monitors.truth("it") is False
    assert monitors.advance(1.0, [], ["p", "nobody"]) == {"it"}


def test_a_step_in_the_past_counts_at_the_last_time() -> None:
    """A step earlier than the last counts at the last one's time."""
    picture = SampleStore()
    monitors = Monitors({"it": TimedOnce(CallEvent("p", "P"), 2.0)}, picture)
    monitors.advance(10.0, [])
    monitors.advance(4.0, [], ["p"])
    monitors.advance(11.75, [])
    assert monitors.truth("it") is True
    monitors.advance(12.0, [])
    assert monitors.truth("it") is False


def test_truth_before_the_first_step_is_unknown() -> None:
    """Before the first step every condition is unknown, even one that needs no data."""
    picture = SampleStore(dict(NO_SIGN))
    monitors = Monitors({"it": Or((ON, Not(ON)))}, picture)
    assert monitors.truth("it") is None
    assert monitors.advance(0.0, []) == {"it"}


def test_a_change_by_a_timer_has_the_time_of_the_timer() -> None:
    """A change by a timer between two steps has the timer's time, not that of the next step."""
    nested = TimedHistorically(TimedHistorically(ON, 1.0), 1.0)
    truths = _truths(
        {"it": nested}, [Step(0.0, {"a": "off"}), Step(1.0, {"a": "on"}), Step(3.0, {}), Step(9.0, {})]
    )
    assert [each["it"] for each in truths] == [False, False, True, True]


def test_a_later_value_does_not_affect_an_earlier_timer() -> None:
    """A condition that ends at a step has not ended at a timer before it."""
    trace = [Step(0.0, {"a": "on", "b": "off"}), Step(5.0, {"a": "off", "b": "on"})]
    watched: dict[str, Condition] = {"held": And((TimedHistorically(ON, 4.0), Not(OTHER)))}
    picture = SampleStore()
    monitors = Monitors(watched, picture)
    run(monitors, picture, trace[:1])
    assert monitors.truth("held") is None
    run(monitors, picture, trace[1:])
    assert monitors.truth("held") is False
