"""Shows the form for the signal search; the view's script fetches the results.

Takes: a device, and the query of the address.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.page.views.signals.signal_index import MAX_QUERY_LENGTH, QUALITY_WORDS
from bridge.runtime.device import Device


def signals(device: Device, query: Mapping[str, str]) -> Mapping[str, object]:
    """Return the form, filled with the query of the address."""
    return {
        "query": query.get("q", "")[:MAX_QUERY_LENGTH],
        "chosen": query.get("quality", ""),
        "qualities": {str(quality): word for quality, word in QUALITY_WORDS.items()},
        "max_length": MAX_QUERY_LENGTH,
        "signal_count": len(device.pack.signals),
    }
