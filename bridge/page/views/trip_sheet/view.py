"""Shows the trip sheet as a form, beside the result of its check.

Takes: a device.  Gives: the values of the templates of the form and of the check.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from bridge.page.views.trip_sheet.fields import trip_sections
from bridge.runtime.device import Device
from rules.packs.model import Pack
from rules.signals.model import Value


class TripSheetInputs(NamedTuple):
    """Trip sheet that the form shows."""

    pack: Pack
    title: str
    inoperative: tuple[str, ...]
    values: Mapping[str, Value]


def trip_sheet_inputs(device: Device) -> TripSheetInputs:
    """Return the present trip sheet."""
    trip = device.trip
    return TripSheetInputs(device.pack, trip.title, trip.inoperative, device.session.trip_values)


def trip_sheet(inputs: TripSheetInputs) -> Mapping[str, object]:
    """Return the trip sheet by section."""
    return {
        "title": inputs.title,
        "inoperative": inputs.inoperative,
        "sections": trip_sections(inputs.pack, inputs.values),
        "seats": inputs.pack.seats,
    }


def trip_sheet_check(_: Device, __: Mapping[str, str]) -> Mapping[str, object]:
    """Return no values: the view's script fetches the result."""
    return {}
