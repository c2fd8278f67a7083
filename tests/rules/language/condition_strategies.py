"""Random checked conditions and random traces for the property tests of the evaluators.

Takes: Hypothesis.  Gives: strategies.  All times are multiples of a quarter second, which floats add exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from hypothesis import strategies as st

from rules.language import checked_tree
from rules.language.checked_tree import Condition, Event, Term
from rules.language.online import Monitors
from rules.signals.model import SHORTEST_GAP_S, Quality, Sample, Signal, SignalKind, Value
from tests.rules.language.oracle_histories import Step


def _signal(name: str, kind: SignalKind, unit: str = "", words: tuple[str, ...] = ()) -> Signal:
    return Signal(name, kind, 0, f"label of {name}", "", unit, 0.0, 360.0, words)


SWITCHES = [_signal(name, SignalKind.SWITCH, words=("off", "on")) for name in ("a", "b")]
CHOICES = [_signal(name, SignalKind.CHOICE, words=("low", "mid", "high")) for name in ("c", "d")]
NUMBERS = [_signal(name, SignalKind.QUANTITY, "psi") for name in ("x", "y")]
ANGLES = [_signal("h", SignalKind.ANGLE, "deg")]
SIGNALS = {signal.name: signal for signal in SWITCHES + CHOICES + NUMBERS + ANGLES}
LOSSY = frozenset(SIGNALS) - {"b", "y"}
"""Signals whose data a gap loses; the others are as values of the trip sheet."""
CALLS = ("p", "q")

truths: st.SearchStrategy[bool | None] = st.sampled_from([True, False, None])
"""Truths that may rest on the assumption over short gaps."""
quarters = st.integers(1, 12).map(lambda n: n / 4)


def value_of(name: str) -> st.SearchStrategy[Value | None]:
    """Value that the signal can have, sometimes None for lost quality."""
    signal = SIGNALS[name]
    if signal.words:
        known: st.SearchStrategy[Value] = st.sampled_from(signal.words)
    elif signal.kind is SignalKind.ANGLE:
        known = st.sampled_from([0.0, 10.0, 90.0, 180.0, 350.0, 360.0])
    else:
        known = st.integers(0, 4).map(float)
    return st.one_of(known, known, known, st.none())


@st.composite
def steps(draw: st.DrawFn, *, most: int = 12) -> list[Step]:
    """Trace: irregular times (also the same twice), few or many signals a step, losses, gaps, calls."""
    now_s, trace = 8.0, []
    for number in range(draw(st.integers(1, most))):
        passed_s = draw(st.sampled_from([0.0, 0.25, 0.25, 0.5, 1.0, 2.5])) if number else 0.0
        gap_s = draw(st.sampled_from([0.0, 0.0, 0.5, 0.75, 2.0, 2.25])) if passed_s else 0.0
        gap_s = min(gap_s, passed_s - 0.125)
        now_s += passed_s
        names = draw(st.lists(st.sampled_from(sorted(SIGNALS)), unique=True, max_size=4))
        values = {name: draw(value_of(name)) for name in names}
        calls = tuple(draw(st.lists(st.sampled_from(CALLS), max_size=1)))
        speakers = tuple(draw(st.lists(st.sampled_from(("captain", "ground", "crew")), max_size=1)))
        gap = now_s - gap_s if gap_s >= SHORTEST_GAP_S else None
        trace.append(Step(now_s, values, calls, gap, speakers[: len(calls)]))
    return trace


def psi(value: float) -> checked_tree.Constant:
    """Pressure."""
    return checked_tree.Constant(value, "psi")


ends = st.builds(
    checked_tree.Sum,
    st.just(checked_tree.SignalValue(NUMBERS[1], unit="psi")),
    st.sampled_from([psi(1.0), psi(2.0)]),
    st.sampled_from([1, -1]),
    st.just("psi"),
)
"""Ends of ranges, and tolerances, that change with a signal."""
turns = st.sampled_from(
    [checked_tree.Constant(20.0, "deg"), checked_tree.SignalValue(NUMBERS[0], unit="deg")]
)
directions = st.one_of(
    st.sampled_from([checked_tree.Constant(value, "deg") for value in (340.0, 355.0, 15.0)]),
    st.builds(
        checked_tree.Sum,
        st.just(checked_tree.SignalValue(ANGLES[0], unit="deg")),
        st.just(checked_tree.Constant(20.0, "deg")),
        st.sampled_from([1, -1]),
        st.just("deg"),
    ),
)


def terms(conditions: st.SearchStrategy[Condition]) -> st.SearchStrategy[Term]:
    """Terms in psi: signals, sums, windows."""
    reads = st.sampled_from([checked_tree.SignalValue(signal, unit="psi") for signal in NUMBERS])
    windows = st.builds(
        checked_tree.Window,
        st.sampled_from(["highest", "lowest", "average", "change", "rate"]),
        reads,
        quarters,
        st.just("psi"),
    )
    sums = st.builds(checked_tree.Sum, reads, reads, st.sampled_from([1, -1]), st.just("psi"))
    scaled = st.builds(checked_tree.Scale, st.one_of(reads, sums), st.just(0.5), st.just("psi"))
    sizes = st.builds(checked_tree.Size, st.one_of(sums, windows), st.just("psi"))
    sets = st.builds(
        checked_tree.Among,
        st.sampled_from(["highest", "lowest", "average"]),
        st.lists(st.one_of(reads, sums, windows), min_size=1, max_size=3).map(tuple),
        st.just("psi"),
    )
    nested = st.builds(
        checked_tree.Window,
        st.sampled_from(["highest", "average"]),
        st.one_of(windows, sums, sizes, sets),
        quarters,
        st.just("psi"),
    )
    counts = st.builds(checked_tree.EventCount, events(conditions), quarters)
    return st.one_of(reads, windows, sums, scaled, sizes, sets, nested, counts)


def events(conditions: st.SearchStrategy[Condition]) -> st.SearchStrategy[Event]:
    """Calls, rises, whenevers, changes, sweeps."""
    return st.one_of(
        st.builds(checked_tree.Changed, st.sampled_from([*SWITCHES, *CHOICES, *NUMBERS])),
        st.sampled_from([checked_tree.CallEvent(name, name) for name in CALLS]),
        st.sampled_from([checked_tree.CallEvent(name, name, "captain", ("ground",)) for name in CALLS]),
        st.builds(checked_tree.Rise, conditions),
        st.builds(checked_tree.Whenever, conditions),
        st.builds(
            checked_tree.Sweep,
            st.just(checked_tree.SignalValue(NUMBERS[0], unit="psi")),
            st.sampled_from([psi(1.0), checked_tree.Sum(psi(2.0), psi(1.0), -1, "psi")]),
            st.just(psi(3.0)),
        ),
    )


def predicates(inner: st.SearchStrategy[Condition]) -> st.SearchStrategy[Condition]:
    """Comparisons, of which some read windows and counts."""
    limits = st.integers(-2, 4).map(lambda n: checked_tree.Constant(float(n), "psi"))
    operators = st.sampled_from(["=", "!=", "<", "<=", ">", ">="])
    heading = checked_tree.SignalValue(ANGLES[0], unit="deg")
    return st.one_of(
        st.builds(checked_tree.Relation, terms(inner), operators, st.one_of(limits, terms(inner))),
        st.builds(checked_tree.Between, terms(inner), st.just(psi(1.0)), st.just(psi(2.0))),
        st.builds(checked_tree.Between, terms(inner), st.one_of(ends, terms(inner)), ends),
        st.builds(
            checked_tree.WithinTolerance, terms(inner), st.one_of(st.just(psi(1.0)), ends), terms(inner)
        ),
        st.builds(checked_tree.Between, st.just(heading), directions, directions, st.just(True)),
        st.builds(checked_tree.WithinTolerance, st.just(heading), turns, directions, st.just(True)),
        st.just(checked_tree.Relation(heading, "=", checked_tree.Constant(0.0, "deg"), on_circle=True)),
        words(),
    )


def words() -> st.SearchStrategy[Condition]:
    """Comparisons of words."""
    return st.one_of(
        st.builds(checked_tree.WordIs, st.sampled_from(SWITCHES), st.just(("on",)), st.booleans()),
        st.builds(checked_tree.WordIs, st.just(CHOICES[0]), st.just(("low", "high")), st.booleans()),
        st.builds(checked_tree.SameWord, st.just(CHOICES[0]), st.just(CHOICES[1]), st.booleans()),
    )


def estimates(parts: st.SearchStrategy[Condition]) -> st.SearchStrategy[Condition]:
    """Claims about estimates: sources that show yes, no, both or nothing."""
    exact = parts.map(lambda part: (part, checked_tree.Not(part)))
    sources = st.one_of(exact, st.tuples(st.one_of(st.none(), parts), st.one_of(st.none(), parts)))
    return st.lists(sources, min_size=1, max_size=3).map(
        lambda pairs: checked_tree.Estimate("e", tuple(yes for yes, _ in pairs), tuple(no for _, no in pairs))
    )


def compound_conditions(parts: st.SearchStrategy[Condition]) -> st.SearchStrategy[Condition]:
    """Conditions trace of smaller ones."""
    several = st.lists(parts, min_size=1, max_size=3).map(tuple)
    return st.one_of(
        predicates(parts),
        st.builds(checked_tree.And, several),
        st.builds(checked_tree.Or, several),
        st.builds(checked_tree.Not, parts),
        st.builds(checked_tree.NumberOf, several, st.integers(0, 1), st.integers(1, 3)),
        st.builds(checked_tree.Implies, parts, parts),
        st.builds(checked_tree.Unless, parts, parts),
        estimates(parts),
        st.builds(checked_tree.TimedHistorically, parts, quarters),
        st.builds(checked_tree.Once, events(parts), truths),
        st.builds(checked_tree.TimedOnce, events(parts), quarters),
        st.builds(
            checked_tree.BeforeAfter,
            events(parts),
            st.sampled_from(["before", "after"]),
            events(parts),
            truths,
        ),
        st.builds(checked_tree.Since, parts, events(parts), truths),
        st.builds(checked_tree.Deadline, st.one_of(parts, events(parts)), quarters, events(parts), truths),
    )


conditions = st.recursive(words(), compound_conditions, max_leaves=6)


@dataclass
class SampleStore:
    """Minimum state that monitors need."""

    values: dict[str, Value] = field(default_factory=dict)

    def sample(self, name: str) -> Sample:
        """Sample, fresh or absent."""
        value = self.values.get(name)
        return Sample(name, value, Quality.ABSENT if value is None else Quality.FRESH, 0.0)

    def apply(self, step: Step) -> list[Sample]:
        """Apply one step."""
        for name, value in step.values.items():
            if value is None:
                self.values.pop(name, None)
            else:
                self.values[name] = value
        return [self.sample(name) for name in step.values]


def advance(monitors: Monitors, step: Step, samples: Sequence[Sample]) -> set[str]:
    """Advance the monitors by a step, over the gap before it."""
    if step.missing_from_s is not None:
        monitors.lose_data(step.missing_from_s, step.at_s)
    return monitors.advance(step.at_s, samples, step.calls, step.speakers)


def run(monitors: Monitors, picture: SampleStore, trace: Sequence[Step]) -> None:
    """Apply all steps."""
    for step in trace:
        advance(monitors, step, picture.apply(step))
