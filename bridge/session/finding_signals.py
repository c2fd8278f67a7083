"""Finds the signals that a finding is about.

Takes: a finding and its pack.  Gives: names of signals.
"""

from __future__ import annotations

from collections.abc import Mapping

from rules.judge.events import Finding
from rules.packs.condition_facts import signals_read
from rules.packs.model import Pack, Watch


def signals_of_finding(finding: Finding, pack: Pack, watches: Mapping[str, Watch]) -> set[str]:
    """Return the signals of the item of a finding and of the items that it follows; empty for an unknown item.

    Args:
        finding: of any kind.
        pack: the pack that the finding comes from.
        watches: the pack's watches by id.
    """
    if finding.item in pack.items:
        item = pack.items[finding.item]
        others = {name for other in item.follows for name in pack.items[other].signals}
        return set(item.signals) | others
    watch = watches.get(finding.item)
    if watch is None:
        return set()
    return set(signals_read(watch.expect, watch.applies))
