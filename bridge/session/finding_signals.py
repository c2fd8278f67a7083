"""Which signals a finding is about.

Takes: a finding and its pack.  Gives: names.
"""

from __future__ import annotations

from collections.abc import Mapping

from rules.judge.events import Finding
from rules.language.traversal import signal_names
from rules.packs.model import Pack, Watch


def signals_of_finding(finding: Finding, pack: Pack, watches: Mapping[str, Watch]) -> set[str]:
    """What the item of a finding reads; of order also what the items before it read; nothing for an unknown item.

    Args:
        finding: the finding.
        pack: by which it was judged.
        watches: the pack's watches by their ids.
    """
    if finding.item in pack.items:
        item = pack.items[finding.item]
        others = {name for other in item.follows for name in pack.items[other].signals}
        return set(item.signals) | others
    watch = watches.get(finding.item)
    if watch is None:
        return set()
    return set(signal_names(watch.expect)) | (set(signal_names(watch.applies)) if watch.applies else set())
