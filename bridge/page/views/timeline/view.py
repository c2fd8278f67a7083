"""Shows the flight as a list of entries by phase, the newest first.

Takes: a device, and for older entries the number of the entry to continue from.  Gives: the values of the templates.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple

from bridge.runtime.device import Device
from bridge.session.request_handlers import MAX_REMARK_LENGTH
from bridge.session.timeline import TimelineEntry
from rules.packs.model import Pack

MAX_ENTRIES = 150
"""Number of entries on one page; older ones have pages of their own."""
MAX_NUMBER_DIGITS = 11

KIND_TITLES: Mapping[str, str] = {
    "notice": "Notices",
    "phase": "Phases",
    "gate": "Gates",
    "call": "Calls",
    "waiver": "Waivers",
    "trip_sheet": "Trip sheet",
    "remark": "Remarks",
    "session": "Session",
    "reset": "Resets",
    "data": "Missing data",
}
"""Titles of the filters, by kind of entry."""


@dataclass(frozen=True, slots=True)
class TimelinePhase:
    """The entries of one phase, the newest first; `title` is '' if the phase began before the first of them."""

    number: int
    title: str
    entries: tuple[TimelineEntry, ...]


class TimelineInputs(NamedTuple):
    """Entries that the panel shows: the newest entries, and whether there are `older` ones."""

    device: str
    pack: Pack
    entries: tuple[TimelineEntry, ...]
    older: bool


def timeline_inputs(device: Device) -> TimelineInputs:
    """Return the newest entries."""
    stored = device.timeline.entries
    newest = tuple(islice(reversed(stored), MAX_ENTRIES))
    return TimelineInputs(device.id, device.pack, newest, len(stored) > len(newest))


def timeline(inputs: TimelineInputs) -> Mapping[str, object]:
    """Return the newest entries by phase."""
    return {
        "phases": by_phase(inputs.entries),
        "seats": inputs.pack.seats,
        "before": inputs.entries[-1].number if inputs.older else 0,
        "device": inputs.device,
    }


def timeline_tools(device: Device, _: Mapping[str, str]) -> Mapping[str, object]:
    """Return the values of the filters and of the form for remarks."""
    return {"kinds": KIND_TITLES, "seats": device.pack.seats, "max_length": MAX_REMARK_LENGTH}


def older_entries(device: Device, query: Mapping[str, str]) -> Mapping[str, object]:
    """Return the entries before the one that the query names, the newest first."""
    text = query.get("before", "")
    is_number = text.isdecimal() and len(text) <= MAX_NUMBER_DIGITS
    before = int(text) if is_number else device.timeline.total + 1
    stored = device.timeline.entries
    entries = list(islice((entry for entry in reversed(stored) if entry.number < before), MAX_ENTRIES))
    first = stored[0].number if stored else 0
    return {
        "phases": by_phase(entries),
        "seats": device.pack.seats,
        "before": entries[-1].number if entries and entries[-1].number > first else 0,
        "dropped": max(0, first - 1),
        "device": device.id,
    }


def by_phase(entries: Iterable[TimelineEntry]) -> tuple[TimelinePhase, ...]:
    """Group entries by the phase in which they happened.

    Args:
        entries: the newest first.
    """
    found: list[TimelinePhase] = []
    group: list[TimelineEntry] = []
    for entry in entries:
        if entry.kind == "phase":
            found.append(TimelinePhase(entry.number, entry.text, (*group, entry)))
            group = []
        else:
            group.append(entry)
    if group:
        found.append(TimelinePhase(0, "", tuple(group)))
    return tuple(found)
