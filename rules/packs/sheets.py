"""A merged pack with every entry checked against its form, and every id that can be referred to.

Takes: a merged layer.  Gives: `Sheets`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Generic

from rules.faults import Fault
from rules.packs.collect import Layer
from rules.packs.schema import (
    CallForm,
    CalloutForm,
    ChecklistForm,
    FigureForm,
    FlowForm,
    GateForm,
    ItemForm,
    LimitForm,
    LineForm,
    PhaseForm,
    QuietForm,
    SeatForm,
    StripForm,
    TableForm,
    TimeForm,
    WatchForm,
)
from rules.packs.spots import Entry, Form, check_form


@dataclass(frozen=True, slots=True)
class Filled(Generic[Form]):
    """An entry with its form filled in."""

    entry: Entry
    form: Form


class Sheets:
    """Everything that fitted its form.

    What did not stands among the `misfits`, with the flow or checklist that it is part of; its id is known all the same.
    """

    def __init__(self, layer: Layer, faults: list[Fault]) -> None:
        """Check every entry; add what does not fit to the faults."""
        self.layer = layer
        self.misfits: list[tuple[str, Entry]] = []
        self._faults = faults
        self.seats = self._filled("seats", SeatForm)
        self.phases = self._filled("phases", PhaseForm)
        self.limits = self._filled("limits", LimitForm)
        self.tables = self._filled("tables", TableForm)
        self.figures = self._filled("figures", FigureForm)
        self.calls = self._filled("calls", CallForm)
        self.gates = self._filled("gates", GateForm)
        self.watches = self._filled("watches", WatchForm)
        self.quiets = self._filled("quiets", QuietForm)
        self.strips = self._filled("strips", StripForm)
        self.callouts = self._filled("callouts", CalloutForm)
        self.times = self._filled("times", TimeForm)
        self.flows = self._filled("flows", FlowForm)
        self.checklists = self._filled("checklists", ChecklistForm)
        self.items = dict(self._parts("flows", ItemForm))
        self.lines = dict(self._parts("checklists", LineForm))
        self.labels = dict(self._labels())

    def known(self, section: str) -> list[str]:
        """Every id of a section, whether its entry fits its form or not."""
        return list(self.layer.sections.get(section, {}))

    def _filled(self, section: str, form: type[Form]) -> dict[str, Filled[Form]]:
        """The entries of a section that fit."""
        found = {}
        for name, entry in self.layer.sections.get(section, {}).items():
            checked = check_form(entry, form, self._faults)
            if checked is not None:
                found[name] = Filled(entry, checked)
            else:
                self.misfits.append(("", entry))
        return found

    def _parts(self, section: str, form: type[Form]) -> Iterator[tuple[str, Filled[Form]]]:
        """The items of flows, or the lines of checklists, by whole id."""
        for whole, entry in self.layer.sections.get(section, {}).items():
            for number, part in enumerate(entry.parts.values(), 1):
                checked = check_form(part, form, self._faults)
                if checked is not None:
                    own = f"flow.{whole}.{part.id}" if section == "flows" else f"checklist.{whole}.{number}"
                    yield own, Filled(part, checked)
                else:
                    self.misfits.append((whole, part))

    def _labels(self) -> Iterator[tuple[str, str]]:
        """Every item that a condition, a need or a line may name, with its label as far as given."""
        for flow, entry in self.layer.sections.get("flows", {}).items():
            for key, item in entry.parts.items():
                label = item.fields["label"].value if "label" in item.fields else None
                yield f"flow.{flow}.{key}", label if isinstance(label, str) else label_of(key)
        for name, entry in self.layer.sections.get("checklists", {}).items():
            for number, line in enumerate(entry.parts.values(), 1):
                if "item" not in line.fields:
                    yield f"checklist.{name}.{number}", line.id


def label_of(key: str) -> str:
    """A key as a pilot would read it, where no label is given."""
    return key.replace("_", " ").capitalize()
