"""The temporal core agrees with rtamt, a library for the online monitoring of signal temporal logic.

Compared on random traces over a uniform grid of one second, with rtamt's discrete-time operators of the past:

| rtamt                     | our_values                                       | the same, but for                              |
|---------------------------|--------------------------------------------|------------------------------------------------|
| `historically[0,n](p)`    | `p for n s`                                | missing history: vacuously true; our_values: unknown |
| `once[0,n](p)`            | `(p) happened within the last n s`         | missing history: false; our_values: unknown          |
| `once[0,n](rise(p))`      | `(p) became true within the last n+1 s`    | half-open: a moment counts on [a, a+n+1)       |
| `once(p)`                 | `(p) happened`                             | nothing                                        |
| `p since q`               | `p since (q) happened`                     | q true now: rtamt_values asks nothing of p, our_values p   |
| `p since (p and rise(q))` | `p since (q) became true`                  | q true at the first sample: a rise; our_values: it may have been |
| `once[0,n](x)` as number  | `highest(x, n s)`                          | nothing: both use what history there is        |
| `historically[0,n](x)`    | `lowest(x, n s)`                           | nothing                                        |

Theirs has samples, our_values dense time in which a sample lasts until the next: p true at sample j is true on [j, j+1).
So a span of n seconds reaches the sample n before the present for conditions, whose truth lasts, but a single moment
n seconds ago is just out of the half-open span; hence n+1 for rises.  Between samples only our_values has an answer.
Theirs measures a margin (a number, true where positive); our_values has three truths and does not read truth from a sign.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.language.checked_tree import (
    CallEvent,
    Condition,
    Constant,
    Once,
    Relation,
    Rise,
    SignalValue,
    Since,
    Term,
    TimedHistorically,
    TimedOnce,
    Whenever,
    Window,
)
from rules.language.online import Monitors
from rules.language.truth import Truth
from tests.rules.language.condition_strategies import NUMBERS, SampleStore
from tests.rules.language.oracle_histories import Step

rtamt = pytest.importorskip("rtamt", reason="rtamt is not installed: pip install 'holdshort[bench]'")

X, Y = (SignalValue(signal, unit="psi") for signal in NUMBERS)
P, Q = (Relation(read, ">=", Constant(0.5, "psi")) for read in (X, Y))
GRID = settings(max_examples=60, deadline=None)

# At least two samples: rtamt 0.4 fails on a trace of one.
bits = st.lists(st.tuples(st.booleans(), st.booleans()), min_size=2, max_size=30)
numbers = st.lists(st.integers(-5, 5).map(float), min_size=2, max_size=30)
spans = st.integers(1, 6)


def rtamt_values(text: str, trace: list[tuple[float, float]]) -> list[float]:
    """Values that rtamt gives at each sample; p and q are margins, above zero for true."""
    monitor = rtamt.StlDiscreteTimeSpecification()
    for name in ("p", "q", "out"):
        monitor.declare_var(name, "float")
    monitor.spec = f"out = {text}"
    monitor.parse()
    series = {"p": [p for p, _ in trace], "q": [q for _, q in trace]}
    return [float(value) for _, value in monitor.evaluate({"time": list(range(len(trace))), **series})]


def rtamt_truths(text: str, trace: list[tuple[bool, bool]]) -> list[bool]:
    """Truths that rtamt gives."""
    return [
        margin > 0
        for margin in rtamt_values(text, [(1.0 if p else -1.0, 1.0 if q else -1.0) for p, q in trace])
    ]


def our_values(condition: Condition, trace: list[tuple[float, float]]) -> list[Truth]:
    """Our truth at each sample, one second apart."""
    picture = SampleStore()
    monitors = Monitors({"it": condition}, picture)
    found = []
    for second, (x, y) in enumerate(trace):
        monitors.advance(float(second), picture.apply(Step(float(second), {"x": x, "y": y})))
        found.append(monitors.truth("it"))
    return found


def our_truths(condition: Condition, trace: list[tuple[bool, bool]]) -> list[Truth]:
    """Our truths of several conditions."""
    return our_values(condition, [(float(p), float(q)) for p, q in trace])


@GRID
@given(bits, spans)
def test_historically_is_for(trace: list[tuple[bool, bool]], span: int) -> None:
    """`for` is `historically`, but unknown where rtamt's is true for lack of history."""
    pairs = zip(
        rtamt_truths(f"historically[0,{span}](p >= 0)", trace),
        our_truths(TimedHistorically(P, span), trace),
        strict=True,
    )
    for second, (their, our) in enumerate(pairs):
        assert our is (None if second < span and their else their)


@GRID
@given(bits, spans)
def test_once_is_happened_within(trace: list[tuple[bool, bool]], span: int) -> None:
    """`happened within` is `once`, but unknown where rtamt's is false for lack of history."""
    condition = TimedOnce(Whenever(P), span)
    pairs = zip(rtamt_truths(f"once[0,{span}](p >= 0)", trace), our_truths(condition, trace), strict=True)
    for second, (their, our) in enumerate(pairs):
        assert our is (None if second < span and not their else their)


@GRID
@given(bits, spans)
def test_rises_within(trace: list[tuple[bool, bool]], span: int) -> None:
    """`became true within n+1` is `once[0,n](rise)`, with a first sample that is no rise."""
    trace = [(False, False), *trace]
    condition = TimedOnce(Rise(P), span + 1)
    pairs = zip(
        rtamt_truths(f"once[0,{span}](rise(p >= 0))", trace), our_truths(condition, trace), strict=True
    )
    for second, (their, our) in enumerate(pairs):
        assert our is (None if second < span + 1 and not their else their)


@GRID
@given(bits)
def test_once_is_happened(trace: list[tuple[bool, bool]]) -> None:
    """`happened` without a span is `once` without bounds."""
    assert our_truths(Once(Whenever(P)), trace) == rtamt_truths("once(p >= 0)", trace)


@GRID
@given(bits)
def test_since(trace: list[tuple[bool, bool]]) -> None:
    """`since` of a lasting event is `since`, and p now."""
    their = [
        truth and p
        for truth, (p, _) in zip(rtamt_truths("(p >= 0) since (q >= 0)", trace), trace, strict=True)
    ]
    assert our_truths(Since(P, Whenever(Q)), trace) == their


@GRID
@given(bits)
def test_since_a_rise(trace: list[tuple[bool, bool]]) -> None:
    """`since` of a rise requires p at the rise itself too."""
    trace = [(False, False), *trace]
    their = rtamt_truths("(p >= 0) since ((p >= 0) and rise(q >= 0))", trace)
    assert our_truths(Since(P, Rise(Q)), trace) == their


def test_a_first_sample_that_is_true_may_be_a_rise() -> None:
    """Where the condition is true at the first sample, rtamt reports a rise and our value is unknown."""
    trace = [(True, True), (True, True)]
    assert rtamt_truths("once(rise(p >= 0))", trace) == [True, True]
    assert our_truths(Once(Rise(P)), trace) == [None, None]


def _value_at_least(term: Term, trace: list[float], bounds: list[float]) -> list[bool]:
    """Check that our window reaches each bound, sample by sample."""
    found = []
    for second, bound in enumerate(bounds):
        until = [(value, 0.0) for value in trace[: second + 1]]
        equal = Relation(term, "=", Constant(bound, "psi"))
        found.append(our_values(equal, until)[-1] is True)
    return found


@settings(max_examples=25, deadline=None)
@given(numbers, spans, st.sampled_from([("once", "highest"), ("historically", "lowest")]))
def test_highest_and_lowest_match_once_and_historically(
    trace: list[float], span: int, names: tuple[str, str]
) -> None:
    """`highest` and `lowest` are the numbers that `once` and `historically` give for a bare signal."""
    bounds = rtamt_values(f"{names[0]}[0,{span}](p)", [(value, 0.0) for value in trace])
    term = Window(names[1], X, span, "psi")
    assert all(_value_at_least(term, trace, bounds))


def test_a_call_is_shorter_than_a_pulse() -> None:
    """A call is one moment: within n seconds of it on [a, a+n), one sample less than a pulse of one sample."""
    picture = SampleStore()
    monitors = Monitors({"it": TimedOnce(CallEvent("p", "P"), 2.0)}, picture)
    found = []
    for second in range(6):
        monitors.advance(float(second), [], ["p"] if second == 2 else [])
        found.append(monitors.truth("it"))
    pulse = rtamt_truths("once[0,2](p >= 0)", [(second == 2, False) for second in range(6)])
    assert found == [False, False, True, True, False, False]
    assert pulse == [False, False, True, True, True, False]
