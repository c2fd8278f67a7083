"""Breaks lines and spans where data were missing, so that nothing is shown there as if it had been measured.

Takes: gaps, lines, spans.  Gives: the parts outside the gaps, and texts of gaps.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from math import inf

from bridge.common.time_text import format_sim_time
from bridge.debrief.model import DataGap
from rules.signals.model import Value
from rules.signals.number_format import format_value
from rules.words import count_in_digits, count_in_words

MAX_LISTED = 5
"""Texts name this many gaps and count the others."""
Line = tuple[list[float], list[Value | None]]
"""Times and values of a line; None means unknown."""


def gaps_within(gaps: Iterable[DataGap], from_s: float, to_s: float) -> tuple[DataGap, ...]:
    """Select the gaps of which at least a part is within a span; times in seconds on one axis."""
    return tuple(gap for gap in gaps if gap.from_s < to_s and gap.to_s > from_s)


def spans_outside(gaps: Iterable[DataGap], from_s: float, to_s: float) -> Iterator[tuple[float, float]]:
    """Yield the parts of a span that are in no gap, in the order of time.

    span    10 ................ 60
    gaps          20..30   40..........70
    parts   10..20   30..40
    """
    at_s = from_s
    for gap_s, end_s in _joined(gaps_within(gaps, from_s, to_s)):
        if gap_s > at_s:
            yield at_s, gap_s
        at_s = end_s
    if to_s > at_s:
        yield at_s, to_s


def break_steps(times_s: Sequence[float], values: Sequence[Value | None], gaps: Iterable[DataGap]) -> Line:
    """Break a line whose value is valid until the next one; after a gap it continues with the value that is valid then.

    gap       15 to 20
    times     10           30
    values    off          on
    broken    10   15  20  30
    values    off  -   off on
    """
    times: list[float] = []
    broken: list[Value | None] = []
    done = 0
    for gap_s, end_s in _joined(gaps):
        first, after = bisect_left(times_s, gap_s), bisect_right(times_s, end_s)
        if after:
            times += [*times_s[done:first], gap_s, end_s]
            broken += [*values[done:first], None, values[after - 1]]
            done = after
    return [*times, *times_s[done:]], [*broken, *values[done:]]


def break_samples(times_s: Sequence[float], values: Sequence[Value | None], gaps: Iterable[DataGap]) -> Line:
    """Break a line of samples; after a gap it continues with the first sample that was taken then.

    gap       15 to 20
    times     10      18   25
    values    1       2    3
    broken    10  15       25
    values    1   -        3
    """
    times: list[float] = []
    broken: list[Value | None] = []
    done = 0
    for gap_s, end_s in _joined(gaps):
        first = bisect_left(times_s, gap_s)
        if first:
            times += [*times_s[done:first], gap_s]
            broken += [*values[done:first], None]
        done = bisect_left(times_s, end_s)
    return [*times, *times_s[done:]], [*broken, *values[done:]]


def _joined(gaps: Iterable[DataGap]) -> Iterator[tuple[float, float]]:
    """Yield the spans of gaps in the order of time; those that overlap are one span."""
    from_s, to_s = inf, -inf
    for gap in sorted(gaps, key=lambda gap: gap.from_s):
        if gap.from_s > to_s:
            if from_s < to_s:
                yield from_s, to_s
            from_s, to_s = gap.from_s, gap.to_s
        to_s = max(to_s, gap.to_s)
    if from_s < to_s:
        yield from_s, to_s


def gaps_on_axis_text(gaps: Sequence[DataGap]) -> str:
    """List gaps as `listed_gaps`, with their times on the axis of the plots."""
    return listed_gaps(gaps, lambda gap: gap.from_s)


def listed_gaps(gaps: Sequence[DataGap], at_s: Callable[[DataGap], float] = lambda gap: gap.sim_s) -> str:
    """List the longest gaps, the longest first: `1.8 s (17 records) at 0:09:25, 0.5 s at 0:12:10`, and count the others.

    Args:
        gaps: at least one.
        at_s: gives the time of a gap that is written; the simulator's clock at its start if not given.
    """
    longest = sorted(gaps, key=lambda gap: -gap.missing_s)[:MAX_LISTED]
    listed = ", ".join(f"{_length_text(gap)} at {format_sim_time(at_s(gap))}" for gap in longest)
    shorter = len(gaps) - len(longest)
    return f"{listed}, and {count_in_words(shorter, 'shorter gap')}" if shorter else listed


def _length_text(gap: DataGap) -> str:
    """Write the length of a gap as `1.8 s`, or `1.8 s (17 records)` where that is known; at least a tenth of a second."""
    length = format_value(max(round(gap.missing_s, 1), 0.1), "s")
    return f"{length} ({count_in_digits(gap.records, 'record')})" if gap.records else length
