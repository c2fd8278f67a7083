"""Checker of a pack's conditions: a faulty condition stays in the pack with its fault, and the rest works.

Takes: an entry's field and the names that its condition may use.  Gives: the checked condition, or `FaultyCondition`.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import replace

from rules.faults import Fault, InputFaults
from rules.language.check import AllInoperative, check
from rules.language.checked_tree import Condition, FaultyCondition
from rules.language.scope import Scope
from rules.language.traversal import item_ids, signal_names
from rules.packs.sourced import PackEntry
from rules.signals.model import TRIP_PREFIX

INOPERATIVE_REASON = "dispatched inoperative"
_LIMIT = re.compile(r"\blimit\.(\w+)")
CONDITION_FIELDS = ("condition", "expect", "applies", "cue", "entry", "after", "begins", "ends", "when")
"""The fields that hold a condition, in whatever form they are."""


class ConditionChecker:
    """Checks conditions in one scope; `condition_faults` collects their faults."""

    def __init__(
        self, scope: Scope, condition_faults: list[Fault], invalid_limits: Iterable[str] = ()
    ) -> None:
        """Start with no faults.

        Args:
            scope: Names that conditions may use.
            condition_faults: List to which faults of conditions are added.
            invalid_limits: Limits that are missing from the scope because they have a fault themselves.
        """
        self._scope = scope
        self._invalid_limits = frozenset(invalid_limits)
        self._condition_faults = condition_faults

    @property
    def signals(self) -> Collection[str]:
        """Names of the signals that conditions and texts may use."""
        return self._scope.signals

    def condition(self, entry: PackEntry, name: str, local: str = "") -> Condition | None:
        """Check the condition under a field; None where the field is missing.

        Args:
            entry: Entry of the field.
            name: Name of the field.
            local: Flow whose items may be named by their keys alone.
        """
        return self.condition_and_waiver(entry, name, local)[0]

    def condition_and_waiver(
        self, entry: PackEntry, name: str, local: str = ""
    ) -> tuple[Condition | None, str]:
        """Check a condition, and give the reason for which it is waived: '' where it is not."""
        given = entry.fields.get(name)
        if given is None or not isinstance(given.value, str):
            return None, ""
        scope = replace(self._scope, local=local)
        try:
            condition = check(given.value, scope, given.location.character_place)
        except AllInoperative:
            return check(
                given.value, replace(scope, inoperative=()), given.location.character_place
            ), INOPERATIVE_REASON
        except InputFaults as error:
            # A faulty limit is reported once, at its own line, not at each use.
            if self._invalid_limits.isdisjoint(_LIMIT.findall(given.value)):
                self._condition_faults.extend(error.faults)
            return FaultyCondition(error.faults[0]), ""
        return condition, INOPERATIVE_REASON if self._is_inoperative(condition) else ""

    def check_all(self, entries: Iterable[tuple[str, PackEntry]]) -> None:
        """Check the conditions of invalid entries, so that their faults are reported too.

        Args:
            entries: Entries, each with the flow whose items may be named by their keys alone.
        """
        for local, entry in entries:
            for name in CONDITION_FIELDS:
                self.condition(entry, name, local)

    def _is_inoperative(self, condition: Condition) -> bool:
        """True if the condition reads signals of the aeroplane and all of them are dispatched inoperative."""
        signals = [name for name in signal_names(condition) if not name.startswith(TRIP_PREFIX)]
        return bool(signals) and not item_ids(condition) and all(map(self._scope.is_inoperative, signals))
