"""Amended papers: a trip sheet that somebody hands in while the flight is being watched.

Takes: the sheet's text and the core.  Gives: what of it differs from the papers that hold, in words and values.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rules.judge.judge import Judge
from rules.packs.trip_sheet import TRIP_PREFIX, parse_trip_sheet
from rules.signals.model import Value
from rules.source import parse_source

MAX_NAMED = 8
"""So many amended values are named in one sentence."""


def changed_values(judge: Judge, text: str, file: str) -> dict[str, Value]:
    """The values of a sheet that are not those of the papers; what the sheet leaves out stays.

    Args:
        judge: has the papers and the pack.
        text: YAML, or JSON where the file's name ends so.
        file: what faults call it.

    Raises:
        InputFaults: every fault of the sheet.
    """
    trip = parse_trip_sheet(parse_source(text, file), judge.context.pack.signals)
    papers = judge.trip_values
    return {name: value for name, value in trip.values.items() if papers.get(name) != value}


def describe_changes(changed: Mapping[str, Value]) -> str:
    """One sentence that names what was amended."""
    if not changed:
        return "the papers hold all of that already"
    return f"papers amended: {_some_names(name.removeprefix(TRIP_PREFIX) for name in changed)}; what reads them is to be checked again"


def _some_names(names: Iterable[str]) -> str:
    """Some names, and how many more there are."""
    known = list(names)
    more = f" and {len(known) - MAX_NAMED} more" if len(known) > MAX_NAMED else ""
    return ", ".join(known[:MAX_NAMED]) + more
