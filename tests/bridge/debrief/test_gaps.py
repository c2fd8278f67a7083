"""Tests of breaking lines and spans at gaps: nothing is left within a gap, and everything outside it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from bridge.debrief.gaps import break_samples, break_steps, gaps_on_axis_text, listed_gaps, spans_outside
from bridge.debrief.model import DataGap
from rules.signals.model import Value

TIMES = st.lists(st.integers(0, 40), unique=True, max_size=12).map(sorted)
GAPS = st.lists(st.tuples(st.integers(0, 40), st.integers(1, 12)), max_size=4).map(
    lambda pairs: [DataGap(float(start), float(start + length), float(start)) for start, length in pairs]
)
MOMENTS = [half / 2 for half in range(110)]


def _valid_at(times_s: Sequence[float], values: Sequence[Value | None], at_s: float) -> Value | None:
    """Give the value that is valid at a time; None before the first."""
    return next((v for t, v in reversed(list(zip(times_s, values, strict=True))) if t <= at_s), None)


def _missing(gaps: Sequence[DataGap], at_s: float) -> bool:
    return any(gap.from_s <= at_s < gap.to_s for gap in gaps)


@given(times=TIMES, gaps=GAPS)
def test_steps_have_no_value_in_a_gap_and_keep_all_others(times: list[int], gaps: list[DataGap]) -> None:
    """At each moment the value is None within a gap, and the one of before outside it."""
    times_s, values = [float(time) for time in times], [f"v{time}" for time in times]
    broken = break_steps(times_s, values, gaps)
    assert broken[0] == sorted(broken[0])
    for at_s in MOMENTS:
        expected = None if _missing(gaps, at_s) else _valid_at(times_s, values, at_s)
        assert _valid_at(*broken, at_s) == expected


@given(times=TIMES, gaps=GAPS)
def test_samples_in_a_gap_are_left_out(times: list[int], gaps: list[DataGap]) -> None:
    """No value is drawn through a gap; each sample outside stays; nothing begins again before the next sample."""
    times_s, values = [float(time) for time in times], [f"v{time}" for time in times]
    broken = break_samples(times_s, values, gaps)
    assert broken[0] == sorted(broken[0])
    assert all(_valid_at(*broken, at_s) is None for at_s in MOMENTS if _missing(gaps, at_s))
    kept = [(t, v) for t, v in zip(times_s, values, strict=True) if not _missing(gaps, t)]
    assert [(t, v) for t, v in zip(*broken, strict=True) if v is not None] == kept


@given(gaps=GAPS, start=st.integers(0, 40), length=st.integers(0, 20))
def test_spans_are_what_is_in_no_gap(gaps: list[DataGap], start: int, length: int) -> None:
    """Each moment of a span is in exactly one part, or in a gap."""
    from_s, to_s = float(start), float(start + length)
    parts = list(spans_outside(gaps, from_s, to_s))
    assert all(begin < end for begin, end in parts)
    assert all(one[1] < after[0] for one, after in pairwise(parts))
    for at_s in MOMENTS:
        inside = from_s <= at_s < to_s and not _missing(gaps, at_s)
        assert any(begin <= at_s < end for begin, end in parts) == inside


def test_the_longest_gaps_are_listed() -> None:
    """At most five gaps are named, the longest first, by the simulator's clock or by the axis; the others are counted."""
    gaps = [DataGap(100.0 * n, 100.0 * n + n, 1000.0 + 100.0 * n) for n in range(1, 8)]
    assert listed_gaps(gaps[:2]) == "2 s at 0:20:00, 1 s at 0:18:20"
    assert gaps_on_axis_text(gaps[:2]) == "2 s at 0:03:20, 1 s at 0:01:40"
    assert listed_gaps(gaps).endswith(", 3 s at 0:21:40, and two shorter gaps")
    assert listed_gaps([DataGap(5.0, 5.04, 5.0)]) == "0.1 s at 0:00:05"
    assert listed_gaps([DataGap(5.0, 6.8, 5.0, 17)]) == "1.8 s (17 records) at 0:00:05"
