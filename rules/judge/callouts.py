"""Callouts: what is said aloud at a moment of the flight (the clock of an engine start, the cross-check speed).

A callout is made when its condition becomes true after it was known to be false.  What was so when the monitors began
was not seen happening, and is not called.  Quiet periods do not hold callouts back: they are what those are for.

Takes: the ids whose truth changed.  Gives: a `Callout` entry for each that is due.
"""

from __future__ import annotations

from collections.abc import Collection

from rules.judge.condition_ids import callout_id
from rules.judge.context import JudgeContext
from rules.judge.events import Callout
from rules.judge.snapshot import fill_placeholders
from rules.packs.model import CalloutRule


class Callouts:
    """Every callout of the pack, in the pack's order."""

    def __init__(self, context: JudgeContext) -> None:
        """None was seen false yet, so none can be made."""
        self._context = context
        self._rules = {callout_id(rule.id): rule for rule in context.pack.callouts}
        self._armed: set[str] = set()
        self._phase_changes_at: dict[str, int] = {}

    def step(self, changed: Collection[str], *, full: bool = False) -> None:
        """Make those whose condition became true.

        Args:
            changed: The ids of the conditions whose truth changed.
            full: Whether the monitors begin with this step, so that nothing was seen happening.
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
        """Take in one condition's new truth; what becomes unknown stays as it was."""
        truth = self._context.monitors.truth(name)
        if truth is False:
            self._armed.add(name)
        elif truth and name in self._armed:
            self._armed.discard(name)
            if self._applies(name, rule):
                self._phase_changes_at[name] = self._context.phase_changes
                text = fill_placeholders(rule.text, self._context.state)
                self._context.emit(Callout(self._context.sim_s, rule.id, text))

    def _applies(self, name: str, rule: CalloutRule) -> bool:
        """Whether it belongs to this phase, and was not made in it already where once is enough."""
        session = self._context
        if rule.phases and session.phase not in rule.phases:
            return False
        return not (rule.once_per_phase and self._phase_changes_at.get(name) == session.phase_changes)
