"""Checklists, each line with the items that it reads, and with the signals that its answer shows.

A line confirms only what it judges, so these are refused:

    answer "{gear.parking_brake}", no item judges the brake now    the answer would be read out whatever the brake is
    nothing sensed, called or confirmed behind the line            the answer would be read out in any case

Takes: the validated pack, its items, figures, gates and signals.  Gives: checklists, and faults.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rules.faults import Fault
from rules.language.scope import Scope
from rules.packs.checklist_answers import answer_faults
from rules.packs.line_reading import LineReading, read_line
from rules.packs.model import Checklist, ChecklistLine, Figure, Gate, Item, declared_id
from rules.packs.placeholders import placeholder_offsets, signals_shown, with_limits
from rules.packs.references import References
from rules.packs.schema import ChecklistLineForm
from rules.packs.validated import FilledForm, ValidatedPack, judges_itself

TRIP_PREFIX = "trip."


class ChecklistBuilder:
    """Builds the checklists of a pack."""

    def __init__(
        self,
        validated: ValidatedPack,
        references: References,
        items: Mapping[str, Item],
        figures: tuple[Figure, ...],
        gates: tuple[Gate, ...],
        scope: Scope,
        faults: list[Fault],
    ) -> None:
        """Start with the items of all flows and lines.

        Args:
            validated: The validated pack.
            references: Gives the matches of an item.
            items: Items by id.
            figures: Figures of the pack.
            gates: Gates of the pack.
            scope: Signals that answers may name, and those that are inoperative.
            faults: List to which faults of lines are added.
        """
        self._validated = validated
        self._references = references
        self._items = items
        self._figures = {figure.signal.name: figure for figure in figures}
        self._gates = gates
        self._scope = scope
        self._faults = faults

    def build(self) -> dict[str, Checklist]:
        """Build every checklist by its id."""
        lines: dict[str, list[ChecklistLine]] = {name: [] for name in self._validated.checklists}
        for name, filled in self._validated.lines.items():
            lines.setdefault(name.split(".")[1], []).append(self._line(name, filled))
        return {
            name: Checklist(name, filled.form.title, filled.form.read_by, tuple(lines[name]))
            for name, filled in self._validated.checklists.items()
        }

    def _line(self, name: str, filled: FilledForm[ChecklistLineForm]) -> ChecklistLine:
        """Build one line, and check its answer."""
        form, entry = filled.form, filled.entry
        declared = (*form.items, *([name] if judges_itself(entry) else []))
        items = tuple(match for one in declared for match in self._references.matches_of(one))
        shown = signals_shown(form.answer, self._scope)
        faults = answer_faults(form.answer, entry.field_location("answer"), self._scope)
        self._faults.extend(faults)
        if not faults and items and all(item in self._items for item in items):
            reading = read_line([self._items[item] for item in items], self._items, self._figures)
            self._faults.extend(self._unread_faults(name.split(".")[1], filled, reading, shown))
        return ChecklistLine(name, form.challenge, with_limits(form.answer, self._scope), items, shown)

    def _unread_faults(
        self,
        checklist: str,
        filled: FilledForm[ChecklistLineForm],
        reading: LineReading,
        shown: Mapping[str, tuple[str, ...]],
    ) -> Iterator[Fault]:
        """Faults of an answer that says more than the line judges."""
        location = filled.entry.field_location("answer")
        if reading.faulty:
            return
        for placeholder, offset in placeholder_offsets(filled.form.answer):
            for signal in shown.get(placeholder, ()):
                if signal not in reading.judged and not self._scope.is_inoperative(signal):
                    what = f"the answer shows {signal}, which the line does not judge"
                    expected, hint = "a condition on its present value", self._judging_hint(signal, checklist)
                    yield Fault(location.character_place(offset), what, expected, hint)
        if not any(not name.startswith(TRIP_PREFIX) for name in reading.signals) and not reading.entered:
            what = "nothing that this line reads is sensed, called or confirmed"
            hint = "with confirm: TEXT the crew confirms the line"
            yield Fault(location.place(), what, "a condition on a signal or a call, or confirm", hint)

    def _judging_hint(self, signal: str, checklist: str) -> str:
        """Hint that names an item that judges a signal, if a gate needs one beside the checklist."""
        judging = [
            name
            for name in self._needed_beside(checklist)
            if name.startswith("flow.")
            and signal in read_line([self._items[name]], self._items, self._figures).judged
        ]
        if judging:
            best = min(judging, key=lambda name: not name.startswith(f"flow.{checklist}."))
            return f"{declared_id(best)} judges it: add it to items"
        return "give the line an item or expect that judges it, or leave it out of the answer"

    def _needed_beside(self, checklist: str) -> Iterator[str]:
        """Items that a gate needs that needs this checklist too; items for other gates belong to other phases."""
        for gate in self._gates:
            if f"checklist {checklist}" in self._validated.gates[gate.id].form.needs:
                yield from (name for name in gate.needs if name in self._items)
