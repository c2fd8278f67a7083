"""Comparisons are evaluated where a signal has moved far enough to change one, and never later."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.language.checked_tree import (
    Condition,
    Constant,
    Predicate,
    Relation,
    SignalValue,
    WithinTolerance,
)
from rules.language.online import Monitors
from rules.language.online.closures import ClosureBuilder
from rules.language.online.conditions import PredicateNode
from rules.language.online.signal_readers import SignalReaders
from rules.language.traversal import inner_windows, terms_of
from rules.signals.model import Value
from tests.bench.flight_frames import FlightFrames, flight_trace
from tests.bench.measure import started
from tests.rules.language.condition_strategies import (
    ANGLES,
    NUMBERS,
    SampleStore,
    predicates,
    value_of,
    words,
)
from tests.rules.language.oracle_histories import Step

X, Y = (SignalValue(signal, unit="psi") for signal in NUMBERS)
MOVING = [signal.name for signal in (*NUMBERS, *ANGLES)]
MOVES = [1e-12, 3e-9, 4e-7, 1e-6, 0.001, 0.02, 0.3, 1.0, 40.0]
"""Sizes of moves: below and at the tolerance of `=`, small beside the limits of the conditions, and large."""


def _of_the_moment(condition: Condition) -> bool:
    """Check that a comparison reads no window and no count."""
    return isinstance(condition, Predicate) and not any(map(inner_windows, terms_of(condition)))


@st.composite
def walks(draw: st.DrawFn) -> list[Step]:
    """Small moves of one or two signals in a step, to both sides; sometimes a jump to a limit, and lost data."""
    present: dict[str, Value | None] = {name: draw(value_of(name)) for name in MOVING}
    trace = [Step(8.0, dict(present))]
    for number in range(draw(st.integers(1, 30))):
        values: dict[str, Value | None] = {}
        for name in draw(st.lists(st.sampled_from(MOVING), unique=True, min_size=1, max_size=2)):
            value = present[name]
            if isinstance(value, float) and draw(st.integers(0, 9)):
                values[name] = value + draw(st.sampled_from([-1.0, 1.0])) * draw(st.sampled_from(MOVES))
            else:
                values[name] = draw(value_of(name))
        present.update(values)
        trace.append(Step(8.25 + 0.25 * number, values))
    return trace


_of_one_moment = predicates(words()).filter(_of_the_moment)


@settings(max_examples=100, deadline=None)
@given(st.lists(_of_one_moment, min_size=1, max_size=4), walks())
def test_every_comparison_has_the_truth_of_its_signals(several: list[Condition], trace: list[Step]) -> None:
    """After each step each comparison has the truth that it has when it is evaluated anew."""
    state = SampleStore()
    monitors = Monitors({str(number): condition for number, condition in enumerate(several)}, state)
    afresh = ClosureBuilder(state.values.get, {})
    for step in trace:
        monitors.advance(step.at_s, state.apply(step))
        for condition in several:
            assert isinstance(condition, Predicate)
            assert monitors.truth_of(condition) is afresh.decider(condition)(), condition


def _corners(readers: Mapping[str, SignalReaders], known: Iterable[str]) -> Iterator[dict[str, Value]]:
    """Give the values at both ends of each range, in every combination."""
    names = [name for name in known if name in readers]
    ends = [(max(readers[name].low, -1e3), min(readers[name].high, 1e3)) for name in names]
    inside = [(low + (high - low) * 1e-9, high - (high - low) * 1e-9) for low, high in ends]
    for corner in product(*inside):
        yield dict(zip(names, corner, strict=True))


@settings(max_examples=400, deadline=None)
@given(_of_one_moment, st.fixed_dictionaries({name: value_of(name) for name in MOVING}))
def test_a_comparison_is_the_same_in_every_corner_of_its_ranges(
    condition: Predicate, start: dict[str, Value | None]
) -> None:
    """Wherever all signals are within their ranges at once, the truth is that of the middle."""
    state = SampleStore()
    monitors = Monitors({"it": condition}, state)
    for at_s in (8.0, 8.25):
        lost = state.apply(Step(at_s, dict.fromkeys(MOVING)))
        monitors.advance(at_s, [*lost, *state.apply(Step(at_s, start))])
    truth, known = monitors.truth("it"), [name for name in MOVING if start[name] is not None]
    for corner in _corners(monitors._graph.readers, known):
        state.values.update(corner)
        assert ClosureBuilder(state.values.get, {}).decider(condition)() is truth, corner


def _evaluations(
    monkeypatch: pytest.MonkeyPatch, condition: Predicate, trace: Sequence[Step]
) -> Iterator[int]:
    """Give after each step but the first the number of evaluations in it."""
    state = SampleStore()
    monitors = Monitors({"it": condition}, state)
    monitors.advance(trace[0].at_s, state.apply(trace[0]))
    counted = _count_evaluations(monkeypatch, monitors)
    for step in trace[1:]:
        counted.clear()
        monitors.advance(step.at_s, state.apply(step))
        yield len(counted)


def _count_evaluations(monkeypatch: pytest.MonkeyPatch, monitors: Monitors) -> list[PredicateNode]:
    """Let each comparison note itself in a list where it is evaluated."""
    counted: list[PredicateNode] = []

    def noting(node: PredicateNode) -> None:
        decide = node.decide

        def decide_and_note() -> bool | None:
            counted.append(node)
            return decide()

        monkeypatch.setattr(node, "decide", decide_and_note)

    for node in monitors._graph.all_nodes:
        if isinstance(node, PredicateNode):
            noting(node)
    return counted


def test_a_signal_far_from_a_limit_costs_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two signals that move less than half of the distance each are not compared again."""
    trace = [Step(8.0, {"x": 100.0, "y": 110.0})]
    trace += [
        Step(8.25 + number, {"x": 100.0 + number / 10, "y": 110.0 - number / 10}) for number in range(9)
    ]
    close = WithinTolerance(X, Constant(50.0, "psi"), Y)
    assert sum(_evaluations(monkeypatch, close, trace)) <= 2


def test_a_limit_that_is_passed_is_noticed_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison is evaluated in the very step in which a signal reaches its limit."""
    limit = Relation(X, ">=", Constant(3.0, "psi"))
    trace = [Step(8.0, {"x": 0.0}), *(Step(9.0 + number, {"x": number / 4}) for number in range(1, 14))]
    counts = list(_evaluations(monkeypatch, limit, trace))
    assert counts[11] == 1
    assert sum(counts) < len(counts) / 2


@pytest.fixture(scope="module")
def departure() -> FlightFrames:
    """The first frames of the benchmark's flight."""
    return flight_trace(200)


def test_a_flight_evaluates_few_of_its_comparisons(
    departure: FlightFrames, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of the comparisons that read a signal that changed, one in ten is evaluated at most."""
    conditions = {name: item.condition for name, item in departure.pack.items.items() if item.condition}
    state, monitors = started(departure, conditions)
    counted, reading = _count_evaluations(monkeypatch, monitors), 0
    for frame in departure.frames[1:]:
        samples = state.fold(frame)
        readers = monitors._graph.readers
        reading += sum(len(list(readers[s.name].predicates)) for s in samples if s.name in readers)
        monitors.advance(frame.sim_s, samples, frame.calls)
    assert len(counted) < reading / 10
