"""Callouts: what is said aloud at a moment of the flight (the clock of an engine start, the cross-check speed).

A callout is made when its condition becomes true after it was known to be false.  What was so when the monitors began
was not seen happening, and is not called.  Quiet periods do not hold callouts back: they are what those are for.

Takes: the ids whose truth changed.  Gives: a `Callout` entry for each that is due.
"""

from __future__ import annotations

from collections.abc import Collection

from rules.judge.entries import Callout
from rules.judge.picture import fill
from rules.judge.session import Session, callout_id
from rules.packs.model import CalloutRule


class Callouts:
    """Every callout of the pack, in the pack's order."""

    def __init__(self, session: Session) -> None:
        """None was seen false yet, so none can be made."""
        self._session = session
        self._rules = {callout_id(rule.id): rule for rule in session.pack.callouts}
        self._ready: set[str] = set()
        self._made: dict[str, int] = {}

    def look(self, changed: Collection[str], *, everywhere: bool = False) -> None:
        """Make those whose condition became true.

        Args:
            changed: The ids of the conditions whose truth changed.
            everywhere: Whether the monitors begin with this step, so that nothing was seen happening.
        """
        if everywhere:
            self._ready.clear()
            self._made.clear()
        if self._rules.keys().isdisjoint(changed):
            return
        for name, rule in self._rules.items():
            if name in changed:
                self._look(name, rule)

    def _look(self, name: str, rule: CalloutRule) -> None:
        """Take in one condition's new truth; what becomes unknown stays as it was."""
        truth = self._session.monitors.truth(name)
        if truth is False:
            self._ready.add(name)
        elif truth and name in self._ready:
            self._ready.discard(name)
            if self._wanted(name, rule):
                self._made[name] = self._session.moves
                text = fill(rule.say, self._session.state)
                self._session.say(Callout(self._session.sim_s, rule.id, text))

    def _wanted(self, name: str, rule: CalloutRule) -> bool:
        """Whether it belongs to this phase, and was not made in it already where once is enough."""
        session = self._session
        if rule.phases and session.phase not in rule.phases:
            return False
        return not (rule.once_per_phase and self._made.get(name) == session.moves)
