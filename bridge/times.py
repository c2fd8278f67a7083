"""The times of a session's flights, one line each: `out 08:12, off 08:31, on 09:20, in 09:28; block 1 h 16 min, flight 49 min`.

Takes: the journal.  Gives: lines of text.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.journal import Journal
from bridge.screen import clock
from rules.arithmetic.times import clock_time, span_in_words
from rules.judge.entries import TimeNoted
from rules.packs.model import Moment


def time_lines(journal: Journal) -> list[str]:
    """One line for each flight, in UTC where the aeroplane has a clock, else by the simulator's.

    Args:
        journal: What the session has said.
    """
    return [_line(noted) for noted in journal.times.values()]


def _line(noted: Mapping[Moment, TimeNoted]) -> str:
    """The moments of one flight that were seen, and the spans between them."""
    moments = [f"{moment} {_read(noted[moment])}" for moment in Moment if moment in noted]
    last = noted.get(Moment.IN)
    spans = {"block": last.block_s, "flight": last.flight_s} if last else {}
    said = [f"{name} {span_in_words(span_s)}" for name, span_s in spans.items() if span_s is not None]
    zone = " UTC" if all(one.utc_s is not None for one in noted.values()) else ""
    return ", ".join(moments) + zone + ("; " + ", ".join(said) if said else "")


def _read(noted: TimeNoted) -> str:
    """When it was, by the aeroplane's clock if it has one."""
    return clock_time(noted.utc_s) if noted.utc_s is not None else clock(noted.at_s)
