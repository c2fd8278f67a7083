"""Tests of bridge.session.flight_times: one line for each flight, as in a journey log."""

from __future__ import annotations

from bridge.session.flight_times import flight_time_lines
from bridge.session.journal import Journal
from rules.judge.events import FlightTimeRecorded
from rules.packs.model import OooiMoment

OUT_S, OFF_S, ON_S, IN_S = 29520.0, 30660.0, 33600.0, 34080.0


def oooi_event(
    moment: OooiMoment,
    utc_s: float | None,
    sector: int = 1,
    block_s: float | None = None,
    flight_s: float | None = None,
) -> FlightTimeRecorded:
    """Make an OOOI event, on a simulator clock that is 29 000 s behind UTC."""
    at_s = (utc_s or 30000.0) - 29000.0
    return FlightTimeRecorded(at_s, moment, sector, at_s, utc_s, block_s, flight_s)


def journal(*entries: FlightTimeRecorded) -> Journal:
    """Collect these events in a journal."""
    collected = Journal()
    for entry in entries:
        collected(entry)
    return collected


def test_a_complete_flight_has_all_times() -> None:
    """The line has all four times in UTC, block and flight time."""
    events = journal(
        oooi_event(OooiMoment.OUT, OUT_S),
        oooi_event(OooiMoment.OFF, OFF_S),
        oooi_event(OooiMoment.ON, ON_S),
        oooi_event(OooiMoment.IN, IN_S, 1, 4560.0, 2940.0),
    )
    expected = "block times: out 08:12, off 08:31, on 09:20, in 09:28 UTC; block 1 h 16 min, flight 49 min"
    assert flight_time_lines(events) == [expected]


def test_each_flight_has_its_own_line() -> None:
    """Each flight has its own line, with only the recorded times."""
    events = journal(
        oooi_event(OooiMoment.OUT, OUT_S),
        oooi_event(OooiMoment.IN, OUT_S + 600, 1, 600.0),
        oooi_event(OooiMoment.OUT, OFF_S, 2),
    )
    assert flight_time_lines(events) == [
        "block times: out 08:12, in 08:22 UTC; block 10 min",
        "block times: out 08:31 UTC",
    ]


def test_a_repeated_event_replaces_the_earlier_one() -> None:
    """A second landing replaces the first."""
    events = journal(oooi_event(OooiMoment.ON, ON_S - 600), oooi_event(OooiMoment.ON, ON_S))
    assert flight_time_lines(events) == ["block times: on 09:20 UTC"]


def test_times_without_utc_are_simulator_times() -> None:
    """Simulator times are printed without UTC."""
    assert flight_time_lines(journal(oooi_event(OooiMoment.OUT, None))) == ["block times: out 0:16:40"]


def test_a_session_without_flight_has_no_line() -> None:
    """A journal without OOOI events gives no line."""
    assert flight_time_lines(Journal()) == []
