"""Shows engine starts and other traces while they are recorded and afterwards.

Takes: a device, and the query of the address.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from bridge.page.views.start.trace_feed import MAX_KEY_LENGTH, card_values
from bridge.page.views.start.trace_view import select_trace
from bridge.runtime.device import Device


def start(device: Device, query: Mapping[str, str]) -> Mapping[str, object]:
    """Return the trace that the address names, or else the running or latest engine start."""
    key = query.get("trace", "")[:MAX_KEY_LENGTH]
    values = card_values(device, select_trace(device, key), pinned=bool(key))
    return {**values, "stream_query": f"trace={quote(key)}"}
