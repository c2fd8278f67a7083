"""What stands above the timeline, and pages of older lines.

Takes: a rig, and the number of the line before which one looks.  Gives: what `timeline_tools.html` and `older.html` show.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import islice

from bridge.page.views.timeline.view import KIND_TITLES, SHOWN_AT_ONCE, by_phase
from bridge.runtime.device import Device
from bridge.session.request_handlers import MAX_REMARK_LENGTH


def timeline_tools(device: Device, _: Mapping[str, str]) -> Mapping[str, object]:
    """Filters, and a form for remarks."""
    return {"kinds": KIND_TITLES, "seats": device.pack.seats, "longest": MAX_REMARK_LENGTH}


def older_entries(device: Device, query: Mapping[str, str]) -> Mapping[str, object]:
    """The lines before one, the newest first."""
    said = query.get("before", "")
    before = int(said) if said.isdecimal() and len(said) < 12 else device.timeline.total + 1
    lines = list(
        islice((line for line in reversed(device.timeline.entries) if line.number < before), SHOWN_AT_ONCE)
    )
    first = device.timeline.entries[0].number if device.timeline.entries else 0
    return {
        "stretches": by_phase(lines),
        "seats": device.pack.seats,
        "before": lines[-1].number if lines and lines[-1].number > first else 0,
        "lost": max(0, first - 1),
        "device": device.id,
    }
