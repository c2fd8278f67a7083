"""What the judge reads from a checked tree."""

from __future__ import annotations

import pytest

from rules.judge.atoms import calls_heard, signals_read, value_signals
from rules.language import checked as c
from rules.signals.model import Kind, Signal
from tests.rules.judge.making import BEACON, HEADING, MODE, PUMP, SHEET, SPEED, above, called, on, same

TEXT = Signal("name", Kind.TEXT, 34, "name", "text", longest=8)
READ = c.Read(SPEED, unit="kt")


@pytest.mark.parametrize(
    ("condition", "names"),
    [
        (on(BEACON), set()),
        (above(SPEED, 3), set()),
        (same(HEADING, SHEET), {"heading", "trip.heading"}),
        (c.Between(READ, 1, 2), {"speed"}),
        (c.Close(READ, 1, c.Const(2, "kt")), {"speed"}),
        (c.WordIs(MODE, ("on",)), {"mode"}),
        (c.WordIs(TEXT, ("X",)), {"name"}),
        (c.SameWord(MODE, MODE), {"mode"}),
        (c.All((on(BEACON), c.Held(c.Between(READ, 1, 2), 2.0))), {"speed"}),
        (None, set()),
    ],
)
def test_value_signals(condition: c.Condition | None, names: set[str]) -> None:
    """Equality, ranges, tolerances and words of three or more compare with a value; switches and limits do not."""
    assert value_signals(condition) == names


def test_signals_read_goes_through_events_and_windows() -> None:
    """Every signal of a tree is found, however deep."""
    rise = c.Rise(on(BEACON))
    window = c.Windowed("highest", c.Combine(READ, c.Read(HEADING, unit="deg"), 1, "kt"), 5.0, "kt")
    tree = c.All((c.Since(on(PUMP), rise), c.Relation(window, ">", c.Const(1, "kt"))))
    assert signals_read(tree) == {"beacon", "pump", "speed", "heading"}


def test_calls_heard_once_each_in_order() -> None:
    """The calls of a condition are named as spoken, each once."""
    tree = c.All((called("ground_clear"), c.Either((called("ready"), called("ground_clear")))))
    assert calls_heard(tree) == ("ground clear", "ready")
