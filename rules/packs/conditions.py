"""Checker of a pack's conditions: a faulty condition stays in the pack with its fault, and the rest works.

Takes: an entry's field and the names that its condition may use.  Gives: the checked condition, or `FaultyCondition`;
for a rule with a `*` the conditions of each of its matches.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from rules.faults import Fault, InputFaults
from rules.language.check import AllInoperative, RuleMatch, check, find_conflicts, find_matches
from rules.language.checked_tree import Condition, FaultyCondition
from rules.language.scope import Scope
from rules.language.traversal import item_ids, signal_names
from rules.packs.sourced import PackEntry, SourcedValue
from rules.signals.model import TRIP_PREFIX

INOPERATIVE_REASON = "dispatched inoperative"
_LIMIT = re.compile(r"\blimit\.(\w+)")
CONDITION_FIELDS = ("condition", "expect", "applies", "cue", "entry", "after", "begins", "ends", "when")
"""The fields that hold a condition, in whatever form they are."""
_OTHER_OF_RULE = {
    "condition": ("after",),
    "expect": ("applies", "after"),
    "applies": ("expect",),
    "after": ("condition", "expect"),
}
"""For each field of a rule the fields of its other condition."""
_FIELDS_WITH_ESTIMATES = frozenset({"cue", "entry", "applies", "when", "begins", "ends"})
"""The fields whose condition may name estimates: none of them can make an item met."""


@dataclass(frozen=True, slots=True)
class MatchedConditions:
    """Conditions of one match of a rule.

    Attributes:
        match: The match, without a word where the rule has only one.
        main: Condition of an item, or what a watch expects; None for none.
        waived: Reason for which it is waived, '' for none.
        second: `after` of an item, or `applies` of a watch; None for none.
        wildcards: Words of each `*` by which the rule is taken apart; none where it stays whole.
    """

    match: RuleMatch
    main: Condition | None
    waived: str
    second: Condition | None
    wildcards: tuple[frozenset[str], ...] = ()

    @property
    def is_faulty(self) -> bool:
        """True where its main condition has a fault, so that its matches are not known."""
        return isinstance(self.main, FaultyCondition)


MAX_HINTED = 50
"""Faults of conditions for which the nearest name is looked for; a pack with more has another problem."""

MAX_LISTED = 100
"""Faults of conditions that are listed; further conditions are not checked, so that a pack of any size is refused soon."""


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
    def scope(self) -> Scope:
        """Names that conditions and texts may use."""
        return self._scope

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
        if len(self._condition_faults) >= MAX_LISTED:
            return self._not_checked(given), ""
        try:
            return self._check(given, name, local, other=_other_text(entry, name))
        except InputFaults as error:
            # A faulty limit is reported once, at its own line, not at each use.
            if self._invalid_limits.isdisjoint(_LIMIT.findall(given.value)):
                self._condition_faults.extend(error.faults)
            return FaultyCondition(error.faults[0]), ""

    def _not_checked(self, given: SourcedValue) -> FaultyCondition:
        """Leave a condition unchecked after too many faults; the first such is a fault itself, so that it is known."""
        hint = f"mend the {MAX_LISTED} before it first"
        fault = Fault(
            given.location.character_place(0), "this condition and those after it were not checked", hint=hint
        )
        if len(self._condition_faults) == MAX_LISTED:
            self._condition_faults.append(fault)
        return FaultyCondition(fault)

    def rule(
        self, entry: PackEntry, main: str, second: str, local: str = ""
    ) -> tuple[MatchedConditions, ...]:
        """Check the conditions of a rule, and take them apart into its matches.

        Args:
            entry: Entry of the rule.
            main: Name of the field of its main condition.
            second: Name of the field of the other one, which may be missing.
            local: Flow whose items may be named by their keys alone.

        Returns:
            The matches, at least one.  Where a condition has a fault, each of them has it.
        """
        too_many = len(self._condition_faults) > MAX_LISTED
        condition, waived = self.condition_and_waiver(entry, main, local)
        other = self.condition(entry, second, local)
        whole = MatchedConditions(RuleMatch(""), condition, waived, other)
        if too_many or condition is None or not isinstance(text := entry.fields[main].value, str):
            return (whole,)
        other_text = entry.fields[second].value if other is not None else None
        scope = replace(self._scope, local=local)
        if isinstance(other_text, str):
            place = entry.fields[main].location.character_place
            self._condition_faults.extend(find_conflicts(text, other_text, scope, place))
        matches = find_matches(text, other_text if isinstance(other_text, str) else None, scope)
        if len(matches) < 2:
            return (whole,)
        wildcards = tuple(dict.fromkeys(group for match in matches for group in match.groups))
        return tuple(
            replace(self._match(entry, (main, second), local, whole, match), wildcards=wildcards)
            for match in matches
        )

    def _match(
        self,
        entry: PackEntry,
        names: tuple[str, str],
        local: str,
        whole: MatchedConditions,
        match: RuleMatch,
    ) -> MatchedConditions:
        """Check the conditions of one match of a rule that was checked as a whole."""
        main, waived, second = whole.main, "", whole.second
        if not isinstance(main, FaultyCondition):
            main, waived = self._check(entry.fields[names[0]], names[0], local, match)
        if match.shared and not isinstance(second, FaultyCondition):
            second, _ = self._check(entry.fields[names[1]], names[1], local, match)
        return MatchedConditions(match, main, whole.waived or waived, second)

    def _check(
        self,
        given: SourcedValue,
        name: str,
        local: str,
        match: RuleMatch | None = None,
        other: str | None = None,
    ) -> tuple[Condition, str]:
        """Check the condition of a field, or its part about one match, with the reason for which it is waived."""
        text, place = str(given.value), given.location.character_place
        scope = replace(
            self._scope,
            local=local,
            may_estimate=name in _FIELDS_WITH_ESTIMATES,
            suggests=len(self._condition_faults) < MAX_HINTED,
        )
        try:
            condition = check(text, scope, place, match, other)
        except AllInoperative:
            return check(text, replace(scope, inoperative=()), place, match, other), INOPERATIVE_REASON
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


def _other_text(entry: PackEntry, name: str) -> str | None:
    """Text of the other condition of a rule, None where it has none."""
    values = (entry.fields[other].value for other in _OTHER_OF_RULE.get(name, ()) if other in entry.fields)
    return next((value for value in values if isinstance(value, str)), None)
