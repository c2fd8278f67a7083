"""The times of each flight in one line.

    block times: out 08:12, off 08:31, on 09:20, in 09:28 UTC; block 1 h 16 min, flight 49 min

Takes: the journal.  Gives: lines of text.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.common.time_text import format_clock_time, format_duration, format_sim_time
from bridge.session.journal import Journal
from rules.judge.events import FlightTimeRecorded
from rules.packs.model import OooiMoment


def flight_time_lines(journal: Journal) -> list[str]:
    """Format one line for each flight, in UTC if the aeroplane has a clock, else in simulator time.

    Args:
        journal: of the session.
    """
    return [_flight_line(times) for times in journal.flight_times.values()]


def _flight_line(times: Mapping[OooiMoment, FlightTimeRecorded]) -> str:
    """Format the recorded times of one flight, then block and flight time."""
    moments = [f"{moment} {_moment_text(times[moment])}" for moment in OooiMoment if moment in times]
    last = times.get(OooiMoment.IN)
    spans = {"block": last.block_s, "flight": last.flight_s} if last else {}
    spans_text = [f"{name} {format_duration(span_s)}" for name, span_s in spans.items() if span_s is not None]
    zone = " UTC" if all(one.utc_s is not None for one in times.values()) else ""
    return "block times: " + ", ".join(moments) + zone + ("; " + ", ".join(spans_text) if spans_text else "")


def _moment_text(times: FlightTimeRecorded) -> str:
    """Format a time by the aeroplane's clock if it has one, else by the simulator's."""
    return format_clock_time(times.utc_s) if times.utc_s is not None else format_sim_time(times.at_s)
