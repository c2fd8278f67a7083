"""What stands above the timeline, and pages of older lines.

Takes: a rig, and the number of the line before which one looks.  Gives: what `timeline_tools.html` and `older.html` show.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import islice

from bridge.page.panels.timeline import AT_ONCE, KINDS, stretches
from bridge.requests import LONGEST_REMARK
from bridge.rig import Rig


def timeline_tools(rig: Rig, _: Mapping[str, str]) -> Mapping[str, object]:
    """Filters, and a form for remarks."""
    return {"kinds": KINDS, "seats": rig.pack.seats, "longest": LONGEST_REMARK}


def older(rig: Rig, query: Mapping[str, str]) -> Mapping[str, object]:
    """The lines before one, the newest first."""
    said = query.get("before", "")
    before = int(said) if said.isdecimal() and len(said) < 12 else rig.timeline.count + 1
    lines = list(islice((line for line in reversed(rig.timeline.lines) if line.number < before), AT_ONCE))
    first = rig.timeline.lines[0].number if rig.timeline.lines else 0
    return {
        "stretches": stretches(lines),
        "seats": rig.pack.seats,
        "before": lines[-1].number if lines and lines[-1].number > first else 0,
        "lost": max(0, first - 1),
        "device": rig.id,
    }
