"""The times of a session's flights, one line each: `out 08:12, off 08:31, on 09:20, in 09:28; block 1 h 16 min, flight 49 min`.

Takes: the journal.  Gives: lines of text.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.common.sim_time import format_sim_time
from bridge.session.journal import Journal
from rules.arithmetic.times import format_clock_time, format_duration
from rules.judge.events import FlightTimeRecorded
from rules.packs.model import OooiMoment


def flight_time_lines(journal: Journal) -> list[str]:
    """One line for each flight, in UTC where the aeroplane has a clock, else by the simulator's.

    Args:
        journal: What the session has said.
    """
    return [_flight_line(noted) for noted in journal.flight_times.values()]


def _flight_line(noted: Mapping[OooiMoment, FlightTimeRecorded]) -> str:
    """The moments of one flight that were seen, and the spans between them."""
    moments = [f"{moment} {_moment_text(noted[moment])}" for moment in OooiMoment if moment in noted]
    last = noted.get(OooiMoment.IN)
    spans = {"block": last.block_s, "flight": last.flight_s} if last else {}
    said = [f"{name} {format_duration(span_s)}" for name, span_s in spans.items() if span_s is not None]
    zone = " UTC" if all(one.utc_s is not None for one in noted.values()) else ""
    return ", ".join(moments) + zone + ("; " + ", ".join(said) if said else "")


def _moment_text(noted: FlightTimeRecorded) -> str:
    """When it was, by the aeroplane's clock if it has one."""
    return format_clock_time(noted.utc_s) if noted.utc_s is not None else format_sim_time(noted.at_s)
