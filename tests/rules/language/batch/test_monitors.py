"""The two evaluators agree on random conditions and random traces, step by step."""

from __future__ import annotations

from hypothesis import example, given, settings
from hypothesis import strategies as st

from rules.language import checked_tree
from rules.language.checked_tree import Condition
from rules.language.online import Monitors
from rules.signals.model import Quality, Sample
from tests.rules.language.batch.column_run import ColumnRun
from tests.rules.language.condition_strategies import NUMBERS, SampleStore, atoms, conditions, steps
from tests.rules.language.oracle import Step

MANY = settings(max_examples=200, deadline=None)
X = checked_tree.SignalValue(NUMBERS[0], unit="psi")


def _highest_over(seconds: float) -> Condition:
    return checked_tree.Relation(
        checked_tree.Window("highest", X, seconds, "psi"), ">", checked_tree.Constant(1.0, "psi")
    )


@MANY
@given(st.one_of(conditions, atoms(conditions)), steps(most=16))
@example(
    _highest_over(1.0),
    [Step(8.0, {"x": 2.0}), Step(8.25, {"x": 0.0}), Step(9.0, {}), Step(9.25, {"a": "on"})],
)
@example(
    _highest_over(0.5), [Step(8.0, {"x": 2.0}), Step(9.0, {"x": None}), Step(9.0, {"x": 0.0}), Step(9.25, {})]
)
def test_every_part_is_what_it_is_live(condition: Condition, trace: list[Step]) -> None:
    """After each step every sub-condition has the truth that the online evaluator gives."""
    picture, columned = SampleStore(), ColumnRun({"it": condition}, trace)
    live = Monitors({"it": condition}, picture)
    for step, changed in zip(trace, columned, strict=True):
        assert changed == live.advance(step.at_s, picture.apply(step), step.calls)
        for part in live._graph.nodes:
            assert columned.monitors.truth_of(part) is live.truth_of(part), part


@MANY
@given(st.lists(st.one_of(conditions, atoms(conditions)), min_size=1, max_size=4), steps(most=16))
def test_nothing_happens_where_nothing_is_planned(several: list[Condition], trace: list[Step]) -> None:
    """Going only to the planned steps, calls and due timers misses no change, and finds each in its step."""
    by_id = {str(number): condition for number, condition in enumerate(several)}
    picture, columned = SampleStore(), ColumnRun(by_id, trace)
    live = Monitors(by_id, picture)
    all_changes = [live.advance(step.at_s, picture.apply(step), step.calls) for step in trace]
    seen = dict(columned.changed_steps())
    assert {n: changed for n, changed in seen.items() if changed} == {
        n: changed for n, changed in enumerate(all_changes) if changed
    }


@MANY
@given(atoms(conditions), steps(most=16))
def test_reasons_are_the_same(atom: Condition, trace: list[Step]) -> None:
    """The reason of a comparison is the same, word for word, at every step; lost data is invalid to both."""
    picture, columned = _Losing(), ColumnRun({"it": atom}, trace)
    live = Monitors({"it": atom}, picture)
    for step, _ in zip(trace, columned, strict=True):
        live.advance(step.at_s, picture.apply(step), step.calls)
        assert columned.monitors.explain("it") == live.explain("it")


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
