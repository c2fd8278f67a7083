"""Tests of intervals against published values.

Score intervals: Newcombe, Statistics in Medicine 17 (1998), 857, table I, method 3 (the figures from memory, as printed to four
decimals).
"""

from __future__ import annotations

from fractions import Fraction
from math import comb, inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.trends.intervals import share_of, spread_of

NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.mark.parametrize(("count", "of", "low", "high"), NEWCOMBE)
def test_score_interval(count: int, of: int, low: float, high: float) -> None:
    """The interval is the published one to four decimals."""
    share = share_of(count, of)
    assert share.low == pytest.approx(low, abs=0.00005)
    assert share.high == pytest.approx(high, abs=0.00005)


@given(st.integers(0, 500).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_an_interval_contains_its_share(given_: tuple[int, int]) -> None:
    """The share is in its interval, within 0 and 1; the interval of the rest is its mirror."""
    count, of = given_
    share, others = share_of(count, of), share_of(of - count, of)
    assert 0.0 <= share.low <= share.high <= 1.0
    if of:
        assert share.low - 1e-12 <= share.value <= share.high + 1e-12
        assert share.low == pytest.approx(1 - others.high, abs=1e-12)


def test_a_total_of_zero() -> None:
    """For a total of 0 the interval is 0 to 1."""
    assert (share_of(0, 0).low, share_of(0, 0).high, share_of(0, 0).value) == (0.0, 1.0, 0.0)


def test_quartiles() -> None:
    """Quartiles are those by linear interpolation: 1 to 9 has 3, 5 and 7; 1 to 4 has 1.75, 2.5 and 3.25."""
    nine, four = spread_of(range(9, 0, -1)), spread_of([4, 1, 3, 2])
    assert nine is not None
    assert four is not None
    assert (nine.low_quartile, nine.median, nine.high_quartile) == (3, 5, 7)
    assert (four.low_quartile, four.median, four.high_quartile) == (1.75, 2.5, 3.25)


@pytest.mark.parametrize(
    ("count", "low", "high"), [(5, None, None), (6, 1, 6), (10, 2, 9), (20, 6, 15), (50, 18, 33)]
)
def test_interval_of_the_median(count: int, low: int | None, high: int | None) -> None:
    """The ranks are those of the sign test at 95 %: none below six values, 2 and 9 of ten, 6 and 15 of twenty, 18 and 33 of fifty."""
    spread = spread_of([float(value) for value in range(1, count + 1)])
    assert spread is not None
    assert (spread.low, spread.high) == (low, high)


@pytest.mark.parametrize("count", [30, 100, 999, 1000, 1500])
def test_the_interval_has_its_probability(count: int) -> None:
    """The probability that the median is between the ranks is at least 95 %, and less than that one rank further in."""
    spread = spread_of([float(value) for value in range(1, count + 1)])
    assert spread is not None
    assert spread.low is not None
    assert _covered(count, int(spread.low)) >= 0.95
    assert count >= 1000 or _covered(count, int(spread.low) + 1) < 0.95


def _covered(count: int, rank: int) -> float:
    """The chance that the median is not below the value of this rank, nor above the one as far from the end."""
    outside = sum(comb(count, below) for below in range(rank))
    return float(1 - Fraction(2 * outside, 2**count))


def test_no_values_have_no_median() -> None:
    """Without values there is no median."""
    assert spread_of([]) is None
    assert spread_of([inf]) is not None
