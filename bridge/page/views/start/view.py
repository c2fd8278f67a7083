"""Engine starts and other stretches as they went, drawn as they grow.

Takes: a rig, and which strip is asked for.  Gives: what `start.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from bridge.page.views.start.trace_feed import MAX_KEY_LENGTH, card_values
from bridge.page.views.start.trace_view import select_trace
from bridge.runtime.device import Device


def start(device: Device, query: Mapping[str, str]) -> Mapping[str, object]:
    """The strip of the address, or the engine start that runs or was last."""
    key = query.get("strip", "")[:MAX_KEY_LENGTH]
    return {**card_values(device, select_trace(device, key), pinned=bool(key)), "ask": f"trace={quote(key)}"}
