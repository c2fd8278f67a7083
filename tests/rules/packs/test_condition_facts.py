"""Facts about a checked condition: value signals, signals read, calls."""

from __future__ import annotations

import pytest

from rules.language import checked_tree as c
from rules.packs.condition_facts import call_titles, compared_signals, signals_read, value_signals
from rules.signals.model import Signal, SignalKind
from tests.rules.judge.scripted_flight import (
    BEACON,
    HEADING,
    MODE,
    PUMP,
    SPEED,
    TRIP_HEADING,
    above,
    called,
    on,
    same,
)

TEXT = Signal("name", SignalKind.TEXT, 34, "name", "text", max_length=8)
READ = c.SignalValue(SPEED, unit="kt")


@pytest.mark.parametrize(
    ("condition", "names"),
    [
        (on(BEACON), set()),
        (above(SPEED, 3), set()),
        (same(HEADING, TRIP_HEADING), {"heading", "trip.heading"}),
        (c.Between(READ, c.Constant(1, "kt"), c.Constant(2, "kt")), {"speed"}),
        (c.WithinTolerance(READ, c.Constant(1, "kt"), c.Constant(2, "kt")), {"speed"}),
        (c.WordIs(MODE, ("on",)), {"mode"}),
        (c.WordIs(TEXT, ("X",)), {"name"}),
        (c.SameWord(MODE, MODE), {"mode"}),
        (
            c.And(
                (
                    on(BEACON),
                    c.TimedHistorically(c.Between(READ, c.Constant(1, "kt"), c.Constant(2, "kt")), 2.0),
                )
            ),
            {"speed"},
        ),
        (None, set()),
    ],
)
def test_value_signals(condition: c.Condition | None, names: set[str]) -> None:
    """Equality, ranges, tolerances and words of three or more compare with a value; switches and limits do not."""
    assert value_signals(condition) == names


def test_signals_read_goes_through_events_and_windows() -> None:
    """Every signal of a tree is found, however deep."""
    rise = c.Rise(on(BEACON))
    window = c.Window("highest", c.Sum(READ, c.SignalValue(HEADING, unit="deg"), 1, "kt"), 5.0, "kt")
    tree = c.And((c.Since(on(PUMP), rise), c.Relation(window, ">", c.Constant(1, "kt"))))
    assert signals_read(tree) == {"beacon", "pump", "speed", "heading"}


def test_calls_entered_once_each_in_order() -> None:
    """The calls of a condition are named by their titles, each once."""
    tree = c.And((called("ground_clear"), c.Or((called("ready"), called("ground_clear")))))
    assert call_titles(tree) == ("ground clear", "ready")


def test_compared_signals_of_counts_and_deadlines() -> None:
    """The subject of a deadline is what is awaited; of a count it is every part."""
    deadline = c.Deadline(on(PUMP), 5.0, c.Rise(on(BEACON)))
    assert compared_signals(deadline) == ("pump",)
    assert compared_signals(c.NumberOf((on(PUMP), above(SPEED, 3)), 0, 1)) == ("pump", "speed")
    assert compared_signals(c.Deadline(c.Rise(on(PUMP)), 5.0, c.Rise(on(BEACON)))) == ()
