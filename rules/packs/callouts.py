"""Callouts of a pack, checked.

Takes: the validated pack, its references and conditions.  Gives: the frozen types of `model`.
"""

from __future__ import annotations

from rules.faults import Fault
from rules.language.scope import Scope
from rules.packs.conditions import ConditionChecker
from rules.packs.model import CalloutRule
from rules.packs.placeholders import placeholder_faults, signals_shown, with_limits
from rules.packs.references import References
from rules.packs.validated import ValidatedPack


def build_callouts(
    validated: ValidatedPack,
    references: References,
    conditions: ConditionChecker,
    scope: Scope,
    faults: list[Fault],
) -> tuple[CalloutRule, ...]:
    """Build the callouts, without those whose signals are all dispatched inoperative.

    Args:
        validated: The validated pack.
        references: Lookup of names.
        conditions: Checker of conditions.
        scope: Signals and limits that texts may name.
        faults: List to which faults are added.
    """
    phases, rules = validated.ids("phases"), []
    for name, filled in validated.callouts.items():
        form, entry = filled.form, filled.entry
        faults += placeholder_faults(form.text, entry.field_location("text"), scope)
        named_phases = references.known_names(form.phases, phases, entry.field_location("phases"), "phase")
        when, waived = conditions.condition_and_waiver(entry, "when")
        if when is None:
            raise AssertionError("a callout's form holds its condition")
        if not waived:
            rules.append(
                CalloutRule(
                    name,
                    with_limits(form.text, scope),
                    when,
                    named_phases,
                    once_per_phase=form.once_per == "phase",
                    shown=signals_shown(form.text, scope),
                )
            )
    return tuple(rules)
