"""Callouts: texts that are spoken at a moment of the flight, such as the time in an engine start or a cross-check speed.

A callout is made when its condition becomes true after it was known to be false.  A condition that is true when the
monitors start was not seen to become true, so it gives no callout.  Quiet periods do not hold callouts back.

Takes: the ids of conditions whose truth changed.  Gives: a `Callout` event for each callout that is due.
"""

from __future__ import annotations

from collections.abc import Collection

from rules.judge.condition_ids import callout_id
from rules.judge.context import JudgeContext
from rules.judge.events import Callout
from rules.judge.signal_text import fill_placeholders
from rules.packs.model import CalloutRule


class Callouts:
    """All callouts of the pack, in the pack's order."""

    def __init__(self, context: JudgeContext) -> None:
        """Start with none armed: each condition must be false first."""
        self._context = context
        self._rules = {callout_id(rule.id): rule for rule in context.pack.callouts}
        self._armed: set[str] = set()
        self._phase_changes_at: dict[str, int] = {}

    def step(self, changed: Collection[str], *, full: bool = False) -> None:
        """Make the callouts whose condition became true.

        Args:
            changed: Ids of the conditions whose truth changed.
            full: True if the monitors start with this step, so that no change was seen.
        """
        if full:
            self._armed.clear()
            self._phase_changes_at.clear()
        if self._rules.keys().isdisjoint(changed):
            return
        for name, rule in self._rules.items():
            if name in changed:
                self._update_rule(name, rule)

    def _update_rule(self, name: str, rule: CalloutRule) -> None:
        """Process the new truth of one condition; an unknown truth changes nothing."""
        truth = self._context.monitors.truth(name)
        if truth is False:
            self._armed.add(name)
        elif truth and name in self._armed:
            self._armed.discard(name)
            if self._applies(name, rule):
                self._phase_changes_at[name] = self._context.phase_changes
                text = fill_placeholders(rule.text, self._context.state, rule.shown)
                self._context.emit(Callout(self._context.sim_s, rule.id, text))

    def _applies(self, name: str, rule: CalloutRule) -> bool:
        """True if the callout belongs to this phase and is not limited to once per phase and already made."""
        context = self._context
        if rule.phases and context.phase not in rule.phases:
            return False
        return not (rule.once_per_phase and self._phase_changes_at.get(name) == context.phase_changes)
