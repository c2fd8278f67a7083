"""Tests of the table: aims, widths of lines, best of the passes."""

from __future__ import annotations

import pytest

from tests.bench.measure import Series
from tests.bench.table import HEAD, Row


@pytest.mark.parametrize(
    ("row", "met"),
    [
        (Row("a", 10.0, 200.0, at_least=20.0), "met"),
        (Row("a", 10.0, 199.0, at_least=20.0), "NOT MET"),
        (Row("a", 30.0, 10.0, at_least=1 / 3), "met"),
        (Row("a", 31.0, 10.0, at_least=1 / 3), "NOT MET"),
        (Row("a", 149.9, at_most_us=150.0), "met"),
        (Row("a", 150.0, at_most_us=150.0), "NOT MET"),
        (Row("a", 10.0, 200.0), ""),
    ],
)
def test_an_aim_is_met_or_not(row: Row, met: str) -> None:
    """A ratio must reach its aim, a time must stay below it; without an aim the column is empty."""
    assert row.met == met
    assert str(row).endswith(met or "x")


def test_lines_fit_80_columns() -> None:
    """No line is wider than 80 columns, also with large numbers and a missed aim."""
    row = Row("  judge, beside Python with update", 123456.7, 12345678.9, at_least=20.0)
    assert len(str(row)) <= 80
    assert len(str(Row("  99th percentile", 123456.7, at_most_us=5000.0))) <= 80
    assert len(HEAD) <= 80


def test_the_best_pass_over_a_frame_counts() -> None:
    """The best of several passes over a frame counts; mean and median are over the frames."""
    series = Series()
    for frame, elapsed_ns in ((0, 9000), (1, 1000), (2, 2000), (0, 3000), (1, 5000), (2, 2000)):
        series.add(frame, elapsed_ns)
    assert series.best_ns == {0: 3000, 1: 1000, 2: 2000}
    assert series.mean_us == 2.0
    assert series.median_us == 2.0
