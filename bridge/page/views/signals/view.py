"""The search for signals; its answer comes by itself while the view is shown.

Takes: a rig, and what is looked for.  Gives: what `signals.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.page.views.signals.signal_index import MAX_QUERY_LENGTH, QUALITY_WORDS
from bridge.runtime.device import Device


def signals(device: Device, query: Mapping[str, str]) -> Mapping[str, object]:
    """The form."""
    return {
        "looked_for": query.get("q", "")[:MAX_QUERY_LENGTH],
        "chosen": query.get("quality", ""),
        "qualities": {str(quality): word for quality, word in QUALITY_WORDS.items()},
        "longest": MAX_QUERY_LENGTH,
        "many": len(device.pack.signals),
    }
