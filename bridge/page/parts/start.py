"""Engine starts and other stretches as they went, drawn as they grow.

Takes: a rig, and which strip is asked for.  Gives: what `start.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from bridge.page.traces import chosen
from bridge.page.tracing import LONGEST_KEY, card
from bridge.rig import Rig


def start(rig: Rig, query: Mapping[str, str]) -> Mapping[str, object]:
    """The strip of the address, or the engine start that runs or was last."""
    key = query.get("strip", "")[:LONGEST_KEY]
    return {**card(rig, chosen(rig, key), asked=bool(key)), "ask": f"trace={quote(key)}"}
