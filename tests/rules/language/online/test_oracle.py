"""The online evaluator agrees with the oracle, built from the definitions, on random traces."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from hypothesis import example, given, settings
from hypothesis import strategies as st

from rules.language import checked_tree
from rules.language.checked_tree import Condition
from rules.language.online import Monitors
from tests.rules.language.condition_strategies import (
    LOSSY,
    NUMBERS,
    SWITCHES,
    SampleStore,
    advance,
    conditions,
    run,
    steps,
)
from tests.rules.language.oracle import Oracle
from tests.rules.language.oracle_histories import Step

MANY = settings(max_examples=150, deadline=None)
ON = checked_tree.WordIs(SWITCHES[0], ("on",))


def _split(trace: Sequence[Step]) -> list[Step]:
    """Split a trace into smaller steps: a pause half-way, and each signal in a step of its own."""
    ends_s = [two.at_s if two.missing_from_s is None else two.missing_from_s for _, two in pairwise(trace)]
    halves = [Step((one.at_s + end_s) / 2, {}) for one, end_s in zip(trace, ends_s, strict=False)]
    parts: list[Step] = []
    for step, half in zip(trace, [*halves, Step(trace[-1].at_s, {})], strict=True):
        parts.append(Step(step.at_s, {}, missing_from_s=step.missing_from_s))
        parts += [Step(step.at_s, {name: value}) for name, value in step.values.items()]
        parts += [Step(step.at_s, {}, step.calls, speakers=step.speakers), half]
    return parts


@MANY
@given(conditions, steps())
@example(
    checked_tree.TimedHistorically(ON, 1.0),
    [Step(8.0, {"a": "on"}), Step(9.0, {"a": "off"}), Step(9.0, {"a": "on"})],
)
def test_online_agrees_with_the_oracle(condition: Condition, trace: list[Step]) -> None:
    """After each step the truth is that of the oracle."""
    picture = SampleStore()
    monitors = Monitors({"it": condition}, picture, lossy=LOSSY)
    for number, step in enumerate(trace, start=1):
        advance(monitors, step, picture.apply(step))
        assert monitors.truth("it") is Oracle(trace[:number], lossy=LOSSY).truth(condition)


@MANY
@given(conditions, steps(most=6))
def test_static_state_agrees_with_the_oracle(condition: Condition, trace: list[Step]) -> None:
    """In a static state the first values, and everything that follows from them, count as having lasted without end."""
    trace = [Step(trace[0].at_s, trace[0].values), *trace[1:]]
    trace = [step for number, step in enumerate(trace) if not number or step.at_s > trace[0].at_s]
    picture = SampleStore()
    monitors = Monitors({"it": condition}, picture, steady=True, lossy=LOSSY)
    for number, step in enumerate(trace, start=1):
        advance(monitors, step, picture.apply(step))
        assert monitors.truth("it") is Oracle(trace[:number], steady=True, lossy=LOSSY).truth(condition)


@MANY
@given(conditions, steps(most=6), st.booleans())
def test_an_unseen_past_agrees_with_the_oracle(condition: Condition, trace: list[Step], steady: bool) -> None:
    """What may have happened before the monitors began is unknown, until it is seen or something newer counts."""
    trace = [step for number, step in enumerate(trace) if not number or step.at_s > trace[0].at_s]
    picture = SampleStore()
    monitors = Monitors({"it": condition}, picture, lossy=LOSSY, steady=steady)
    for number, step in enumerate(trace, start=1):
        advance(monitors, step, picture.apply(step))
        if number == 1:
            monitors.set_unseen_past(step.at_s, calls=False)
        oracle = Oracle(trace[:number], lossy=LOSSY, unseen=True, steady=steady)
        assert monitors.truth("it") is oracle.truth(condition)


@MANY
@given(st.lists(conditions, min_size=1, max_size=3), steps(most=6))
def test_what_counts_as_seen_has_no_unseen_past(several: list[Condition], trace: list[Step]) -> None:
    """The conditions counted as seen have the truth of a flight watched from its beginning, beside others that have not."""
    by_id = {f"{kind} {n}": c for n, c in enumerate(several) for kind in ("seen", "all")}
    as_seen = [name for name in by_id if name.startswith("seen")]
    picture = SampleStore()
    monitors = Monitors(by_id, picture, lossy=LOSSY, as_seen=as_seen)
    for number, step in enumerate(trace, start=1):
        advance(monitors, step, picture.apply(step))
        if number == 1:
            monitors.set_unseen_past(step.at_s, calls=False)
        for n, condition in enumerate(several):
            assert monitors.truth(f"seen {n}") is Oracle(trace[:number], lossy=LOSSY).truth(condition)


@MANY
@given(conditions, steps())
def test_a_step_split_in_two_gives_the_same(condition: Condition, trace: list[Step]) -> None:
    """Splitting a step in two gives the same result."""
    unsplit, split = SampleStore(), SampleStore()
    one, many = (
        Monitors({"it": condition}, unsplit, lossy=LOSSY),
        Monitors({"it": condition}, split, lossy=LOSSY),
    )
    run(one, unsplit, trace)
    run(many, split, _split(trace))
    assert one.truth("it") is many.truth("it")


@MANY
@given(st.lists(conditions, min_size=2, max_size=4), steps(), steps())
def test_restart(several: list[Condition], first: list[Step], second: list[Step]) -> None:
    """After a restart, also to an earlier time, the monitors are as new, and report the changed truths."""
    by_id = {str(number): condition for number, condition in enumerate(several)}
    picture = SampleStore()
    monitors = Monitors(by_id, picture, lossy=LOSSY)
    run(monitors, picture, first)
    before = {name: monitors.truth(name) for name in by_id}
    picture.values.clear()
    monitors.restart()
    changed = monitors.advance(second[0].at_s, picture.apply(second[0]), second[0].calls, second[0].speakers)
    assert changed == {name for name in by_id if monitors.truth(name) is not before[name]}
    run(monitors, picture, second[1:])
    for name, condition in by_id.items():
        assert monitors.truth(name) is Oracle(second, lossy=LOSSY).truth(condition)


@MANY
@given(st.lists(conditions, min_size=1, max_size=4), steps())
def test_advance_returns_the_changes(several: list[Condition], trace: list[Step]) -> None:
    """`advance` returns exactly the conditions whose truth changed in the step."""
    by_id = {str(number): condition for number, condition in enumerate(several)}
    picture = SampleStore()
    monitors = Monitors(by_id, picture, lossy=LOSSY)
    for step in trace:
        before = {name: monitors.truth(name) for name in by_id}
        changed = advance(monitors, step, picture.apply(step))
        assert changed == {name for name in by_id if monitors.truth(name) is not before[name]}


@MANY
@given(st.lists(conditions, min_size=2, max_size=4), steps())
def test_sharing_changes_nothing(several: list[Condition], trace: list[Step]) -> None:
    """A condition has the same truth, whichever other conditions are evaluated with it."""
    by_id = {str(number): condition for number, condition in enumerate(several)}
    picture = SampleStore()
    together = Monitors(by_id, picture, lossy=LOSSY)
    alone = [Monitors({name: condition}, picture, lossy=LOSSY) for name, condition in by_id.items()]
    for step in trace:
        samples = picture.apply(step)
        advance(together, step, samples)
        for (name, _), monitors in zip(by_id.items(), alone, strict=True):
            advance(monitors, step, samples)
            assert together.truth(name) is monitors.truth(name)


@given(steps(most=30))
def test_memory_is_bounded_by_the_look_back(trace: list[Step]) -> None:
    """Values that have left every window are dropped, and a sample that changes nothing adds nothing."""
    read = checked_tree.SignalValue(NUMBERS[0], unit="psi")
    windows = [checked_tree.Window(name, read, 1.0, "psi") for name in ("highest", "change")]
    terms: list[checked_tree.Term] = [*windows, checked_tree.EventCount(checked_tree.Rise(ON), 1.0)]
    one = checked_tree.Constant(1.0, "psi")
    watched = {str(number): checked_tree.Relation(term, ">", one) for number, term in enumerate(terms)}
    picture = SampleStore()
    monitors = Monitors(watched, picture)
    run(monitors, picture, trace)
    last = trace[-1].at_s
    monitors.advance(last + 1.0, picture.apply(Step(last + 1.0, {})))
    past_values = [monitors._graph.number_nodes[term]._past for term in terms]  # type: ignore[attr-defined]
    assert [len(past) for past in past_values] == [0, 0, 0]
    for number in range(20):
        monitors.advance(last + 2.0 + number / 100, picture.apply(Step(last, dict(picture.values))))
    assert [len(past) for past in past_values] == [0, 0, 0]
