"""A condition that can never change is detected, and no other is reported.

Takes: random conditions and traces, small domains tried completely, and near misses.
Gives: tests that the check never reports a condition that can change, and detects all where it can try everything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.faults import InputFaults
from rules.language import checked_tree
from rules.language.check import check
from rules.language.check.satisfiability import PossibleTruths, possible_truths
from rules.language.online import Monitors
from rules.signals.model import Signal, SignalKind
from tests.rules.language import condition_strategies
from tests.rules.language.oracle_histories import Step
from tests.rules.language.scopes import SCOPES, at

# -- never a false alarm ------------------------------------------------------------------------------------


@settings(max_examples=200, deadline=None)
@given(condition_strategies.conditions, condition_strategies.steps(most=20))
def test_never_and_always_are_certain(condition: checked_tree.Condition, trace: list[Step]) -> None:
    """On any trace a condition is never true where the check says never, nor false where it says always."""
    mask = possible_truths(condition)
    picture = condition_strategies.SampleStore()
    monitors = Monitors({"x": condition}, picture)
    for step in trace:
        condition_strategies.run(monitors, picture, [step])
        truth = monitors.truth("x")
        assert truth is None or mask & (PossibleTruths.TRUE if truth else PossibleTruths.FALSE)


_words = condition_strategies.words()
_recent = st.builds(
    checked_tree.TimedOnce, condition_strategies.events(_words), condition_strategies.quarters
)
_lasting = st.builds(checked_tree.TimedHistorically, _words, condition_strategies.quarters)


@settings(max_examples=200, deadline=None)
@given(_recent, _lasting, condition_strategies.steps(most=20))
def test_an_event_in_a_time_of_for_is_refused_only_where_both_exclude_each_other(
    recent: checked_tree.Condition, lasting: checked_tree.Condition, trace: list[Step]
) -> None:
    """On no trace are an event within a time and a `for` both true where the check says that they exclude each other."""
    both = checked_tree.And((recent, lasting))
    if possible_truths(both) & PossibleTruths.TRUE:
        return
    picture = condition_strategies.SampleStore()
    monitors = Monitors({"x": both}, picture)
    for step in trace:
        condition_strategies.run(monitors, picture, [step])
        assert not monitors.truth("x")


@pytest.mark.parametrize(
    "text",
    [
        "speed > 100 kt and speed < 100.001 kt",
        "speed > 100 kt and speed <= 120 kt or speed < 90 kt",
        "speed >= 500 kt",
        "speed <= 0 kt",
        "speed = 500 kt",
        "code > 1200 and code < 1202",
        "code = 7777",
        "code in 0..7776",
        "fuel.left <= fuel.right and fuel.left >= fuel.right",
        "fuel.left = fuel.right and fuel.left < fuel.right",
        "fuel.left - fuel.right > 11999 kg",
        "fuel.left + fuel.right > 23999 kg",
        "heading in 350..10 deg and heading in 9..351 deg",
        "heading within 10 deg of 355 deg and heading within 10 deg of 5 deg",
        "heading = 0 deg and heading != 1 deg",
        "pack.mode is not auto and pack.mode is not high",
        "papers.runway is 14 or papers.runway is not 14L",
        "papers.runway is not 14 and papers.runway is panel.runway",
        "lights.beacon is on and not lights.beacon is on for 2 s",
        "lights.beacon is on and lights.beacon became off within the last 5 s",
        "lights.beacon is off and (lights.beacon is on) happened within the last 5 s",
        "lights.beacon is on for 2 s and not lights.beacon is on for 5 s",
        "gear.brake is released since gear.brake became released",
        "gear.brake became set before gear.brake became set",
        "gear.brake became released after gear.brake became set",
        "if lights.beacon is on then lights.strobe is on",
        "(lights.beacon is on or speed > 5 kt) and (lights.beacon is off or speed < 3 kt)",
        "highest(speed, 5 s) > 80 kt and speed < 80 kt",
        "lowest(speed, 5 s) < 80 kt and highest(speed, 5 s) > 80 kt",
        "change(speed, 5 s) > 499 kt",
        "rate(speed, 2 s) < -249 kt/s",
        "count(gear.brake became set, 5 s) > 1000",
        "hydraulic.pressure < 344 bar",
        "air.outside > 157 degF",
        "flow.beacon is met and flow.bleed is not met",
        "elevator swept -100..100 %",
        "any engine.*.n2 > 119 %",
        "at most 2 of (pump.*.switch is off)",
        "exactly 3 of (pump.*.switch is off)",
        "exactly 1 of (speed > 80 kt, speed > 100 kt)",
        "lights.beacon became on within the last 5 s and lights.beacon is on for 2 s",
        "lights.beacon became on within the last 5 s and lights.beacon is off for 2 s",
        "pack.mode changed within the last 5 s and pack.mode is one of (auto, high) for 10 s",
        "if lights.beacon became on within the last 1 s then (lights.beacon is off for 120 s) happened within the last 2 s",
        "if lights.beacon became on within the last 1 s then lights.strobe is off for 120 s",
    ],
)
def test_a_condition_that_can_change_is_accepted(text: str) -> None:
    """A condition that is rare, or looks contradictory, but can change is valid."""
    assert possible_truths(check(text, SCOPES["small"], at(text))) == PossibleTruths.BOTH


def test_one_constant_match_is_allowed() -> None:
    """Of a `*`, only the whole must be able to change: one engine's gauge may end earlier than the other's."""
    signals = dict(SCOPES["small"].signals)
    signals["engine.2.n2"] = replace(signals["engine.2.n2"], high=100.0)
    scope = replace(SCOPES["small"], signals=signals)
    either = "any engine.*.n2 > 110 %"
    assert possible_truths(check(either, scope, at(either))) == PossibleTruths.BOTH
    both = "engine.*.n2 > 110 %"
    with pytest.raises(InputFaults, match="never true"):
        check(both, scope, at(both))


# -- nothing overlooked -----------------------------------------------------------------------------------


_LAMP = Signal("lamp", SignalKind.SWITCH, 0, "", "", words=("off", "on"))
_MODE = Signal("mode", SignalKind.CHOICE, 0, "", "", words=("off", "auto", "on"))
_DIAL = Signal("dial", SignalKind.COUNT, 0, "", "", low=0, high=4)
_STEPS = Signal("steps", SignalKind.COUNT, 0, "", "", low=1, high=3)
_DOMAINS: dict[str, Sequence[float | str]] = {
    "lamp": _LAMP.words,
    "mode": _MODE.words,
    "dial": range(5),
    "steps": range(1, 4),
}

_reads = st.sampled_from(
    [
        checked_tree.SignalValue(_DIAL, unit="1"),
        checked_tree.SignalValue(_STEPS, unit="1"),
        checked_tree.SignalValue(_DIAL, 2, -1, "1"),
    ]
)
_numbers = st.integers(-2, 10).map(lambda n: checked_tree.Constant(n / 2, "1"))
_scaled = st.builds(checked_tree.Scale, _reads, st.sampled_from([2.0, -1.0]), st.just("1"))
_shifted = st.builds(checked_tree.Sum, _reads, _numbers, st.sampled_from([1, -1]), st.just("1"))
_sizes = st.builds(checked_tree.Size, _shifted, st.just("1"))
_terms = st.one_of(_reads, _scaled, _shifted)


def _constants(*values: float) -> st.SearchStrategy[checked_tree.Constant]:
    return st.sampled_from([checked_tree.Constant(value, "1") for value in values])


_ops = st.sampled_from(["=", "!=", "<", "<=", ">", ">="])
_atoms = st.one_of(
    st.builds(checked_tree.WordIs, st.just(_LAMP), st.just(("on",)), st.booleans()),
    st.builds(
        checked_tree.WordIs, st.just(_MODE), st.sampled_from([("on",), ("off", "auto")]), st.booleans()
    ),
    st.builds(checked_tree.SameWord, st.just(_LAMP), st.just(_MODE), st.booleans()),
    st.builds(checked_tree.Relation, _terms, _ops, _numbers),
    st.builds(checked_tree.Between, _terms, _constants(0.0, 1.5), _constants(2.0, 3.0)),
    st.builds(checked_tree.Between, _terms, _constants(0.0, 1.5), _numbers),
    st.builds(checked_tree.WithinTolerance, _terms, _constants(0.5, 1.0), _numbers),
)


def _joined(parts: st.SearchStrategy[checked_tree.Condition]) -> st.SearchStrategy[checked_tree.Condition]:
    several = st.lists(parts, min_size=2, max_size=3).map(tuple)
    return st.one_of(
        st.builds(checked_tree.And, several),
        st.builds(checked_tree.Or, several),
        st.builds(checked_tree.Not, parts),
        st.builds(checked_tree.NumberOf, several, st.integers(0, 1), st.integers(1, 2)),
        st.builds(checked_tree.Implies, parts, parts),
        st.builds(checked_tree.Unless, parts, parts),
    )


def _number(term: checked_tree.Term, values: Mapping[str, float | str]) -> float:
    """Value of a term by its definition."""
    match term:
        case checked_tree.Constant(value):
            return value
        case checked_tree.SignalValue(signal, factor, offset):
            return float(values[signal.name]) * factor + offset
        case checked_tree.Size(inner):
            return abs(_number(inner, values))
        case checked_tree.Scale(inner, factor):
            return _number(inner, values) * factor
        case checked_tree.Sum(left, right, sign):
            return _number(left, values) + sign * _number(right, values)
        case _:
            raise AssertionError(term)


def _atom_truth(node: checked_tree.Condition, values: Mapping[str, float | str]) -> bool:
    match node:
        case checked_tree.WordIs(signal, words, negated):
            return (values[signal.name] in words) != negated
        case checked_tree.SameWord(left, right, negated):
            return (values[left.name] == values[right.name]) != negated
        case checked_tree.Between(term, low, high):
            return _number(low, values) <= _number(term, values) <= _number(high, values)
        case checked_tree.WithinTolerance(term, tolerance, target):
            return abs(_number(term, values) - _number(target, values)) <= _number(tolerance, values)
        case checked_tree.Relation(first, op, second):
            one, other = _number(first, values), _number(second, values)
            order = {"=": one == other, "!=": one != other, "<": one < other, "<=": one <= other}
            return {**order, ">": one > other, ">=": one >= other}[op]
        case _:
            raise AssertionError(node)


def _truth(node: checked_tree.Condition, values: Mapping[str, float | str]) -> bool:
    """Two-valued truth at one moment."""
    match node:
        case checked_tree.And(parts):
            return all(_truth(part, values) for part in parts)
        case checked_tree.Or(parts):
            return any(_truth(part, values) for part in parts)
        case checked_tree.Not(part):
            return not _truth(part, values)
        case checked_tree.NumberOf(parts, least, most):
            return least <= sum(_truth(part, values) for part in parts) <= most
        case checked_tree.Unless(part, excuse):
            return _truth(part, values) or _truth(excuse, values)
        case checked_tree.Implies(when, then):
            return not _truth(when, values) or _truth(then, values)
        case _:
            return _atom_truth(node, values)


@settings(max_examples=200, deadline=None)
@given(st.recursive(_atoms, _joined, max_leaves=6))
def test_the_check_is_exact_over_few_values(condition: checked_tree.Condition) -> None:
    """Where every combination of values can be tried, the answer is exact.

    The answer may be too wide only where two comparisons link the same signals; none of these conditions does.
    """
    found = PossibleTruths(0)
    for values in product(*_DOMAINS.values()):
        found |= (
            PossibleTruths.TRUE
            if _truth(condition, dict(zip(_DOMAINS, values, strict=True)))
            else PossibleTruths.FALSE
        )
    assert possible_truths(condition) == found


# -- bounded work ------------------------------------------------------------------------------------------


def test_too_many_combinations_count_as_able_to_change() -> None:
    """A contradiction among more signals than can be tried is accepted, and takes bounded time."""
    switches = [Signal(f"s{n}", SignalKind.SWITCH, 0, "", "", words=("off", "on")) for n in range(40)]
    pairs = zip(switches, [*switches[1:], switches[0]], strict=True)
    ring = checked_tree.And(tuple(checked_tree.SameWord(one, other, negated=True) for one, other in pairs))
    odd = checked_tree.And((*ring.parts, checked_tree.SameWord(switches[0], switches[2], negated=True)))
    assert possible_truths(odd) == PossibleTruths.BOTH


def test_a_deep_condition_is_evaluated_once() -> None:
    """Holds inside holds, each with a part of its own, do not double the work with every level."""
    text = "lights.beacon is on"
    for level in range(17):
        text = f"({text} and speed > {level + 1} kt) for 1 s"
    assert possible_truths(check(text, SCOPES["small"], at(text))) == PossibleTruths.BOTH
