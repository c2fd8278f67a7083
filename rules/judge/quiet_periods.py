"""Quiet periods: which of them are on, and which findings they hold back.

Takes: the ids of conditions whose truth changed.  Gives: whether a finding is held back, and whether some may be given now.
"""

from __future__ import annotations

from collections.abc import Collection

from rules.judge.condition_ids import quiet_id
from rules.judge.context import JudgeContext
from rules.judge.events import Finding
from rules.packs.model import Level, QuietPeriod, declared_id


class QuietPeriods:
    """The quiet periods of a pack."""

    def __init__(self, context: JudgeContext) -> None:
        """Start with none."""
        self._context = context
        self._on: dict[str, QuietPeriod] = {}

    @property
    def levels(self) -> tuple[Level, ...]:
        """Levels that are held back."""
        return tuple(level for level in Level if any(level in quiet.holds for quiet in self._on.values()))

    def reset(self) -> None:
        """End all of them."""
        self._on.clear()

    def holds(self, finding: Finding) -> bool:
        """True if the level or the watch of a finding is held back."""
        watch = declared_id(finding.item)
        return any(finding.level in quiet.holds or watch in quiet.watches for quiet in self._on.values())

    def update(self, changed: Collection[str]) -> bool:
        """Start and end quiet periods; one whose condition is unknown continues.

        Args:
            changed: Ids of the conditions whose truth changed.

        Returns:
            True if one ended, so that notices that were held back may be given now.
        """
        ended = False
        for quiet in self._context.pack.quiet_periods:
            if quiet_id(quiet.id) not in changed:
                continue
            truth = self._context.monitors.truth(quiet_id(quiet.id))
            if truth:
                self._on[quiet.id] = quiet
            elif truth is False:
                ended |= self._on.pop(quiet.id, None) is not None
        return ended
