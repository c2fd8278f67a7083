"""Selects the signals that a simulator may send: neither trip values nor figures.

Takes: a pack.  Gives: the signals that a link, a map file or a static state can set.
"""

from __future__ import annotations

from rules.packs.model import Pack
from rules.signals.model import TRIP_PREFIX, Signal


def input_signals(pack: Pack) -> dict[str, Signal]:
    """Return the signals of a pack that a simulator may send."""
    return {name: signal for name, signal in pack.signals.items() if not non_input_reason(pack, name)}


def non_input_reason(pack: Pack, name: str) -> str:
    """Explain why a simulator may not send a signal; '' if it may."""
    if name.startswith(TRIP_PREFIX):
        return "it comes from the trip sheet"
    return "the pack calculates it" if any(figure.signal.name == name for figure in pack.figures) else ""
