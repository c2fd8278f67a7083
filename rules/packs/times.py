"""Times of a pack: when the aeroplane is out, off, on and in, checked.

Takes: the sheets, their references and conditions.  Gives: the frozen types of `model`.
"""

from __future__ import annotations

from rules.faults import Fault
from rules.packs.conditions import Conditions
from rules.packs.model import Moment, TimeRule
from rules.packs.references import References
from rules.packs.sheets import Sheets
from rules.source import did_you_mean, join_or

MOMENTS = tuple(str(moment) for moment in Moment)


def build_times(
    sheets: Sheets, references: References, conditions: Conditions, faults: list[Fault]
) -> tuple[TimeRule, ...]:
    """The moments of a pack, but for those of which all that shows them is dispatched inoperative.

    Args:
        sheets: The pack's entries.
        references: Where names are looked up.
        conditions: Where conditions are checked.
        faults: Where faults are added.
    """
    phases, found = sheets.known("phases"), []
    for name, filled in sheets.times.items():
        form, entry = filled.form, filled.entry
        if name not in MOMENTS:
            place, hint = entry.at.place(key=True), did_you_mean(name, MOMENTS)
            faults.append(Fault(place, f"{name} is no moment of a flight", join_or(MOMENTS), hint))
            continue
        named = references.each(form.phases, phases, entry.spot("phases"), "phase")
        when, excused = conditions.of_item(entry, "when")
        if when is None:
            raise AssertionError("the form of a moment holds its condition")
        if not excused:
            found.append(TimeRule(Moment(name), when, named))
    return tuple(found)
