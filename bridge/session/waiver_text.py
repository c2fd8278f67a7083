"""Writes waivers as texts for screens and reports: item, reason, author, and the gates that need the item.

Takes: a pack, events of waivers.  Gives: texts.
"""

from __future__ import annotations

from rules.judge.events import WaiverBegun, WaiverUndone
from rules.packs.model import Pack


def waived_item(pack: Pack, item: str) -> tuple[str, tuple[str, ...]]:
    """Return the label of an item, and the titles of the gates that need it, in the pack's order."""
    known = pack.items.get(item)
    gates = tuple(gate.title for gate in pack.gates if item in gate.needs)
    return known.label if known is not None else item, gates


def waiver_text(event: WaiverBegun | WaiverUndone, label: str) -> str:
    """Describe a waiver that begins or is undone, without its author."""
    what = f"{label} waived" if isinstance(event, WaiverBegun) else f"{label} no longer waived"
    return f"{what}: {event.reason}" if event.reason else what
