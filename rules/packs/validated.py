"""Merged pack with every entry checked against its form, and every id that can be referred to.

Takes: a merged layer.  Gives: `ValidatedPack`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Generic

from rules.faults import Fault
from rules.packs.read_folder import PackLayer
from rules.packs.schema import (
    CallForm,
    CalloutForm,
    ChecklistForm,
    ChecklistLineForm,
    EstimateForm,
    FigureForm,
    FlightTimeForm,
    FlowForm,
    GateForm,
    ItemForm,
    LimitForm,
    PhaseForm,
    QuietForm,
    SeatForm,
    TableForm,
    TraceForm,
    WatchForm,
)
from rules.packs.sourced import Form, PackEntry, check_form
from rules.words import capitalised, words_of_id


@dataclass(frozen=True, slots=True)
class FilledForm(Generic[Form]):
    """Entry with its form."""

    entry: PackEntry
    form: Form


class ValidatedPack:
    """All entries that fit their forms.

    Entries that do not are in `invalid_entries`, with the flow or checklist that they belong to; their ids are known
    too.
    """

    def __init__(self, layer: PackLayer, faults: list[Fault]) -> None:
        """Check every entry; misfits are added to the faults."""
        self.layer = layer
        self.invalid_entries: list[tuple[str, PackEntry]] = []
        self._faults = faults
        self.seats = self._validate_section("seats", SeatForm)
        self.phases = self._validate_section("phases", PhaseForm)
        self.limits = self._validate_section("limits", LimitForm)
        self.tables = self._validate_section("tables", TableForm)
        self.figures = self._validate_section("figures", FigureForm)
        self.estimates = self._validate_section("estimates", EstimateForm)
        self.calls = self._validate_section("calls", CallForm)
        self.gates = self._validate_section("gates", GateForm)
        self.watches = self._validate_section("watches", WatchForm)
        self.quiets = self._validate_section("quiets", QuietForm)
        self.traces = self._validate_section("traces", TraceForm)
        self.callouts = self._validate_section("callouts", CalloutForm)
        self.flight_times = self._validate_section("times", FlightTimeForm)
        self.flows = self._validate_section("flows", FlowForm)
        self.checklists = self._validate_section("checklists", ChecklistForm)
        self.items = dict(self._validate_parts("flows", ItemForm))
        self.lines = dict(self._validate_parts("checklists", ChecklistLineForm))
        self.labels = dict(self._item_labels())

    def ids(self, section: str) -> list[str]:
        """Ids of a section, including those of invalid entries."""
        return list(self.layer.sections.get(section, {}))

    def _validate_section(self, section: str, form: type[Form]) -> dict[str, FilledForm[Form]]:
        """Valid entries of a section."""
        found = {}
        for name, entry in self.layer.sections.get(section, {}).items():
            checked = check_form(entry, form, self._faults)
            if checked is not None:
                found[name] = FilledForm(entry, checked)
            else:
                self.invalid_entries.append(("", entry))
        return found

    def _validate_parts(self, section: str, form: type[Form]) -> Iterator[tuple[str, FilledForm[Form]]]:
        """Valid items of flows, or lines of checklists, by whole id."""
        for whole, entry in self.layer.sections.get(section, {}).items():
            for part in entry.parts.values():
                checked = check_form(part, form, self._faults)
                if checked is not None:
                    yield f"{section.removesuffix('s')}.{whole}.{part.id}", FilledForm(part, checked)
                else:
                    self.invalid_entries.append((whole, part))

    def _item_labels(self) -> Iterator[tuple[str, str]]:
        """Items that a condition, a need or a line may name, with their labels as far as given."""
        for flow, entry in self.layer.sections.get("flows", {}).items():
            for key, item in entry.parts.items():
                yield f"flow.{flow}.{key}", _label_of_entry(item, "label")
        for name, entry in self.layer.sections.get("checklists", {}).items():
            for key, line in entry.parts.items():
                if judges_itself(line):
                    yield f"checklist.{name}.{key}", _label_of_entry(line, "challenge")


def judges_itself(line: PackEntry) -> bool:
    """True if a line has an item of its own, beside those that it reads."""
    return not {"expect", "confirm"}.isdisjoint(line.fields)


def _label_of_entry(entry: PackEntry, field: str) -> str:
    """Label of an item as it is written under a field, or made from its key."""
    label = entry.fields[field].value if field in entry.fields else None
    return label if isinstance(label, str) else label_of(entry.id)


def label_of(key: str) -> str:
    """Label of an item made from its key."""
    return capitalised(words_of_id(key))
