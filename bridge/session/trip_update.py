"""Updates of the trip sheet while a flight is watched.

Takes: the text of a sheet, the pack and the present trip values.  Gives: the values that differ from the present ones, and a sentence on them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rules.faults import Fault, InputFaults
from rules.packs.model import Pack
from rules.packs.trip_sheet import parse_trip_sheet
from rules.packs.trip_values import strips_left_behind
from rules.signals.model import TRIP_PREFIX, Value
from rules.source import SourceDocument, parse_source

MAX_NAMED = 8
"""Limit of the values that one sentence names."""


def changed_values(pack: Pack, present: Mapping[str, Value], text: str, file: str) -> dict[str, Value]:
    """Return the values of a sheet that differ from the present trip values; missing values stay.

    Args:
        pack: has the signals of the trip sheet.
        present: present trip values, by signal name.
        text: YAML, or JSON if the file's name ends in .json.
        file: name of the sheet in faults.

    Raises:
        InputFaults: every fault of the sheet; or it has another runway, and where that lies would stay as it was.
    """
    source = parse_source(text, file)
    trip = parse_trip_sheet(source, pack.signals)
    faults = [
        _strip_fault(source, runway, str(trip.values[runway]), names)
        for runway, names in strips_left_behind(present, trip.values).items()
    ]
    if faults:
        raise InputFaults(faults)
    return {name: value for name, value in trip.values.items() if present.get(name) != value}


def _strip_fault(source: SourceDocument, runway: str, ident: str, names: Iterable[str]) -> Fault:
    """The fault of a runway that would be judged by the place of the one before."""
    key = runway.removeprefix(TRIP_PREFIX)
    place = source.place(("trip", "values", key), key=True)
    missing = ", ".join(name.removeprefix(TRIP_PREFIX) for name in names)
    what = f"the sheet has another runway, {ident}, and {missing} of the one before would stay"
    hint = f"write {missing} of runway {ident} too; nothing was changed"
    return Fault(place, what, f"a runway with {missing}", hint)


def describe_changes(changed: Mapping[str, Value]) -> str:
    """Describe changed values in one sentence."""
    if not changed:
        return "the trip sheet has all of that already"
    return f"trip sheet amended: {_some_names(name.removeprefix(TRIP_PREFIX) for name in changed)}; items that use it must be checked again"


def _some_names(names: Iterable[str]) -> str:
    """Join the first names, and the number of the others."""
    known = list(names)
    more = f" and {len(known) - MAX_NAMED} more" if len(known) > MAX_NAMED else ""
    return ", ".join(known[:MAX_NAMED]) + more
