"""The flight so far as lines, the newest first, by phase.

Takes: a rig.  Gives: what `timeline.html` shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import islice

from bridge.runtime.device import Device
from bridge.session.timeline import TimelineEntry

SHOWN_AT_ONCE = 150
"""So many lines are sent; older ones stand on pages of their own."""

KIND_TITLES: Mapping[str, str] = {
    "notice": "Notices",
    "phase": "Phases",
    "gate": "Gates",
    "call": "Calls",
    "papers": "Papers",
    "remark": "Remarks",
    "session": "Session",
    "reset": "Resets",
}
"""The kinds of lines, as their filters name them."""


@dataclass(frozen=True, slots=True)
class TimelinePhase:
    """The lines of one phase, the newest first; `title` is '' where the phase began before the first of these lines."""

    number: int
    title: str
    entries: tuple[TimelineEntry, ...]


def timeline(device: Device) -> Mapping[str, object]:
    """The newest lines."""
    kept = device.timeline.entries
    lines = list(islice(reversed(kept), SHOWN_AT_ONCE))
    return {
        "stretches": by_phase(lines),
        "seats": device.pack.seats,
        "before": lines[-1].number if len(kept) > len(lines) else 0,
        "device": device.id,
    }


def by_phase(lines: Iterable[TimelineEntry]) -> tuple[TimelinePhase, ...]:
    """Lines by the phase in which they stand.

    Args:
        lines: the newest first.
    """
    found: list[TimelinePhase] = []
    gathered: list[TimelineEntry] = []
    for line in lines:
        if line.kind == "phase":
            found.append(TimelinePhase(line.number, line.text, (*gathered, line)))
            gathered = []
        else:
            gathered.append(line)
    if gathered:
        found.append(TimelinePhase(0, "", tuple(gathered)))
    return tuple(found)
