"""Flight times of a pack: the conditions for out, off, on and in, checked.

Takes: the validated pack, its references and conditions.  Gives: the frozen types of `model`.
"""

from __future__ import annotations

from rules.faults import Fault
from rules.packs.conditions import ConditionChecker
from rules.packs.model import FlightTimeRule, OooiMoment
from rules.packs.references import References
from rules.packs.validated import ValidatedPack
from rules.source import did_you_mean
from rules.words import join_or

MOMENT_NAMES = tuple(str(moment) for moment in OooiMoment)


def build_flight_times(
    validated: ValidatedPack, references: References, conditions: ConditionChecker, faults: list[Fault]
) -> tuple[FlightTimeRule, ...]:
    """Build the flight times, without those whose signals are all dispatched inoperative.

    Args:
        validated: The validated pack.
        references: Lookup of names.
        conditions: Checker of conditions.
        faults: List to which faults are added.
    """
    phases, rules = validated.ids("phases"), []
    for name, filled in validated.flight_times.items():
        form, entry = filled.form, filled.entry
        if name not in MOMENT_NAMES:
            place, hint = entry.location.place(key=True), did_you_mean(name, MOMENT_NAMES)
            faults.append(Fault(place, f"{name} is not a moment of a flight", join_or(MOMENT_NAMES), hint))
            continue
        named_phases = references.known_names(form.phases, phases, entry.field_location("phases"), "phase")
        when, waived = conditions.condition_and_waiver(entry, "when")
        if when is None:
            raise AssertionError("the form of a moment holds its condition")
        if not waived:
            rules.append(FlightTimeRule(OooiMoment(name), when, named_phases))
    return tuple(rules)
