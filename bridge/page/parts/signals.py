"""The search for signals; its answer comes by itself while the view is shown.

Takes: a rig, and what is looked for.  Gives: what `signals.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.page.signals import LONGEST_QUERY, WORDS
from bridge.rig import Rig


def signals(rig: Rig, query: Mapping[str, str]) -> Mapping[str, object]:
    """The form."""
    return {
        "looked_for": query.get("q", "")[:LONGEST_QUERY],
        "chosen": query.get("quality", ""),
        "qualities": {str(quality): word for quality, word in WORDS.items()},
        "longest": LONGEST_QUERY,
        "many": len(rig.pack.signals),
    }
