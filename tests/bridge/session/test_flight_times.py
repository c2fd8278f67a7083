"""Tests of bridge.session.flight_times: a line for each flight, as a crew would write it into the journey log."""

from __future__ import annotations

from bridge.session.flight_times import flight_time_lines
from bridge.session.journal import Journal
from rules.judge.events import FlightTimeRecorded
from rules.packs.model import OooiMoment

OUT_S, OFF_S, ON_S, IN_S = 29520.0, 30660.0, 33600.0, 34080.0


def noted(
    moment: OooiMoment,
    utc_s: float | None,
    sector: int = 1,
    block_s: float | None = None,
    flight_s: float | None = None,
) -> FlightTimeRecorded:
    """A moment, at a time of the simulator's clock that is 29 000 s behind."""
    at_s = (utc_s or 30000.0) - 29000.0
    return FlightTimeRecorded(at_s, moment, sector, at_s, utc_s, block_s, flight_s)


def journal(*entries: FlightTimeRecorded) -> Journal:
    """Make a journal of these events."""
    made = Journal()
    for entry in entries:
        made(entry)
    return made


def test_a_whole_flight() -> None:
    """All four times in UTC, block and flight time."""
    told = journal(
        noted(OooiMoment.OUT, OUT_S),
        noted(OooiMoment.OFF, OFF_S),
        noted(OooiMoment.ON, ON_S),
        noted(OooiMoment.IN, IN_S, 1, 4560.0, 2940.0),
    )
    line = "out 08:12, off 08:31, on 09:20, in 09:28 UTC; block 1 h 16 min, flight 49 min"
    assert flight_time_lines(told) == [line]


def test_a_flight_that_came_back_and_the_next() -> None:
    """Each flight has its own line, with only the recorded times."""
    told = journal(
        noted(OooiMoment.OUT, OUT_S),
        noted(OooiMoment.IN, OUT_S + 600, 1, 600.0),
        noted(OooiMoment.OUT, OFF_S, 2),
    )
    assert flight_time_lines(told) == ["out 08:12, in 08:22 UTC; block 10 min", "out 08:31 UTC"]


def test_the_last_landing_stands() -> None:
    """A moment that is noted again replaces itself."""
    told = journal(noted(OooiMoment.ON, ON_S - 600), noted(OooiMoment.ON, ON_S))
    assert flight_time_lines(told) == ["on 09:20 UTC"]


def test_without_a_clock() -> None:
    """Simulator times are printed without UTC."""
    assert flight_time_lines(journal(noted(OooiMoment.OUT, None))) == ["out 0:16:40"]


def test_nothing_noted() -> None:
    """A session without a flight has no line."""
    assert flight_time_lines(Journal()) == []
