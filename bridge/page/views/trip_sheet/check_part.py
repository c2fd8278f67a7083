"""Room for what the pack says of papers while they are typed; the page's script fills it.

Takes: a rig.  Gives: what `tried.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.runtime.device import Device


def trip_sheet_check(_: Device, __: Mapping[str, str]) -> Mapping[str, object]:
    """Nothing is tried yet."""
    return {}
