"""Shows the trip sheet as a form, beside the result of its check.

Takes: a device.  Gives: the values of the templates of the form and of the check.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.page.views.trip_sheet.fields import trip_sections
from bridge.runtime.device import Device


def trip_sheet(device: Device) -> Mapping[str, object]:
    """Return the current trip sheet by section."""
    return {
        "title": device.trip.title,
        "note": device.trip.note,
        "inoperative": device.trip.inoperative,
        "sections": trip_sections(device),
        "seats": device.pack.seats,
    }


def trip_sheet_check(_: Device, __: Mapping[str, str]) -> Mapping[str, object]:
    """Return no values: the view's script fetches the result."""
    return {}
