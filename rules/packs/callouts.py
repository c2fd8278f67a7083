"""Callouts of a pack, checked.

Takes: the validated pack, its references and conditions.  Gives: the frozen types of `model`.
"""

from __future__ import annotations

from collections.abc import Collection

from rules.faults import Fault
from rules.packs.checklist_answers import placeholder_faults
from rules.packs.conditions import ConditionChecker
from rules.packs.model import CalloutRule
from rules.packs.references import References
from rules.packs.validated import ValidatedPack


def build_callouts(
    validated: ValidatedPack,
    references: References,
    conditions: ConditionChecker,
    signals: Collection[str],
    faults: list[Fault],
) -> tuple[CalloutRule, ...]:
    """Build the callouts, without those whose signals are all dispatched inoperative.

    Args:
        validated: The validated pack.
        references: Lookup of names.
        conditions: Checker of conditions.
        signals: Names of all signals.
        faults: List to which faults are added.
    """
    phases, rules = validated.ids("phases"), []
    for name, filled in validated.callouts.items():
        form, entry = filled.form, filled.entry
        faults += placeholder_faults(form.text, entry.field_location("text"), signals)
        named_phases = references.known_names(form.phases, phases, entry.field_location("phases"), "phase")
        when, waived = conditions.condition_and_waiver(entry, "when")
        if when is None:
            raise AssertionError("a callout's form holds its condition")
        if not waived:
            rules.append(
                CalloutRule(name, form.text, when, named_phases, once_per_phase=form.once_per == "phase")
            )
    return tuple(rules)
