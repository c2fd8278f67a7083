"""The two evaluators agree on random conditions and random traces, step by step."""

from __future__ import annotations

from hypothesis import example, given, settings
from hypothesis import strategies as st

from rules.language import checked_tree
from rules.language.checked_tree import Condition
from rules.language.online import Monitors
from rules.signals.model import Quality, Sample
from tests.rules.language.batch.column_run import ColumnRun
from tests.rules.language.condition_strategies import (
    LOSSY,
    NUMBERS,
    SampleStore,
    advance,
    conditions,
    predicates,
    steps,
)
from tests.rules.language.oracle_histories import Step

MANY = settings(max_examples=200, deadline=None)
X = checked_tree.SignalValue(NUMBERS[0], unit="psi")


def _highest_over(seconds: float) -> Condition:
    return checked_tree.Relation(
        checked_tree.Window("highest", X, seconds, "psi"), ">", checked_tree.Constant(1.0, "psi")
    )


@MANY
@given(st.one_of(conditions, predicates(conditions)), steps(most=16))
@example(
    _highest_over(1.0),
    [Step(8.0, {"x": 2.0}), Step(8.25, {"x": 0.0}), Step(9.0, {}), Step(9.25, {"a": "on"})],
)
@example(
    _highest_over(0.5), [Step(8.0, {"x": 2.0}), Step(9.0, {"x": None}), Step(9.0, {"x": 0.0}), Step(9.25, {})]
)
def test_every_part_agrees_with_online(condition: Condition, trace: list[Step]) -> None:
    """After each step every sub-condition has the truth that the online evaluator gives."""
    state, columns = SampleStore(), ColumnRun({"it": condition}, trace)
    online = Monitors({"it": condition}, state, lossy=LOSSY)
    for step, changed in zip(trace, columns, strict=True):
        assert changed == advance(online, step, state.apply(step))
        for part in online._graph.nodes:
            assert columns.monitors.truth_of(part) is online.truth_of(part), part


@MANY
@given(st.lists(st.one_of(conditions, predicates(conditions)), min_size=1, max_size=4), steps(most=16))
def test_changes_only_at_planned_steps(several: list[Condition], trace: list[Step]) -> None:
    """Going only to the planned steps, calls and due timers misses no change, and finds each in its step."""
    by_id = {str(number): condition for number, condition in enumerate(several)}
    state, columns = SampleStore(), ColumnRun(by_id, trace)
    online = Monitors(by_id, state, lossy=LOSSY)
    all_changes = [advance(online, step, state.apply(step)) for step in trace]
    seen = dict(columns.changed_steps())
    assert {n: changed for n, changed in seen.items() if changed} == {
        n: changed for n, changed in enumerate(all_changes) if changed
    }


@MANY
@given(predicates(conditions), steps(most=16))
def test_reasons_are_the_same(predicate: Condition, trace: list[Step]) -> None:
    """The reason of a comparison is the same, word for word, at every step; lost data is invalid to both."""
    state, columns = _Losing(), ColumnRun({"it": predicate}, trace)
    online = Monitors({"it": predicate}, state, lossy=LOSSY)
    for step, _ in zip(trace, columns, strict=True):
        advance(online, step, state.apply(step))
        assert columns.monitors.explain("it") == online.explain("it")


class _Losing(SampleStore):
    """State that stores lost and invalid values."""

    def __init__(self) -> None:
        super().__init__()
        self._named: set[str] = set()

    def apply(self, step: Step) -> list[Sample]:
        """Apply one step."""
        self._named.update(step.values)
        return super().apply(step)

    def sample(self, name: str) -> Sample:
        """Sample: fresh, invalid, or absent."""
        sample = super().sample(name)
        lost = sample.quality is Quality.ABSENT and name in self._named
        return sample._replace(quality=Quality.INVALID) if lost else sample
