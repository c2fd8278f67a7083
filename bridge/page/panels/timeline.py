"""The flight so far as lines, the newest first, by phase.

Takes: a rig.  Gives: what `timeline.html` shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import islice

from bridge.rig import Rig
from bridge.timeline import Line

AT_ONCE = 150
"""So many lines are sent; older ones stand on pages of their own."""

KINDS: Mapping[str, str] = {
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
class Stretch:
    """The lines of one phase, the newest first; `title` is '' where the phase began before the first of these lines."""

    number: int
    title: str
    lines: tuple[Line, ...]


def timeline(rig: Rig) -> Mapping[str, object]:
    """The newest lines."""
    kept = rig.timeline.lines
    lines = list(islice(reversed(kept), AT_ONCE))
    return {
        "stretches": stretches(lines),
        "seats": rig.pack.seats,
        "before": lines[-1].number if len(kept) > len(lines) else 0,
        "device": rig.id,
    }


def stretches(lines: Iterable[Line]) -> tuple[Stretch, ...]:
    """Lines by the phase in which they stand.

    Args:
        lines: the newest first.
    """
    found: list[Stretch] = []
    gathered: list[Line] = []
    for line in lines:
        if line.what == "phase":
            found.append(Stretch(line.number, line.text, (*gathered, line)))
            gathered = []
        else:
            gathered.append(line)
    if gathered:
        found.append(Stretch(0, "", tuple(gathered)))
    return tuple(found)
