"""The trip sheet as a form.

Takes: a rig.  Gives: what `papers.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.page.views.trip_sheet.fields import trip_sections
from bridge.runtime.device import Device


def trip_sheet(device: Device) -> Mapping[str, object]:
    """The papers that hold."""
    return {
        "title": device.trip.title,
        "note": device.trip.note,
        "inoperative": device.trip.inoperative,
        "sections": trip_sections(device),
        "seats": device.pack.seats,
    }
