"""What a simulator may speak of: neither the papers nor what the pack works out by itself.

Takes: a pack.  Gives: the signals that a link, a map or a still picture can feed.
"""

from __future__ import annotations

from rules.packs.model import Pack
from rules.packs.trip_sheet import TRIP_PREFIX
from rules.signals.model import Signal


def input_signals(pack: Pack) -> dict[str, Signal]:
    """The signals that somebody sends."""
    return {name: signal for name, signal in pack.signals.items() if not non_input_reason(pack, name)}


def non_input_reason(pack: Pack, name: str) -> str:
    """Who says a signal that no simulator may: '' where one may."""
    if name.startswith(TRIP_PREFIX):
        return "the trip sheet says it"
    return "the pack works it out" if any(figure.signal.name == name for figure in pack.figures) else ""
