"""Phases, gates, watches and quiet periods of a pack.

Takes: the sheets, their references and conditions.  Gives: the frozen types of `model`.
"""

from __future__ import annotations

from collections.abc import Collection

from rules.faults import Fault
from rules.packs.conditions import Conditions
from rules.packs.model import Gate, Phase, Quiet, Watch
from rules.packs.references import References
from rules.packs.schema import GateForm, WatchForm
from rules.packs.sheets import Filled, Sheets


class Stages:
    """Builds what belongs to the course of the flight."""

    def __init__(
        self, sheets: Sheets, references: References, conditions: Conditions, faults: list[Fault]
    ) -> None:
        """The phases' order is the backbone of the rest."""
        self._sheets = sheets
        self._references = references
        self._conditions = conditions
        self._faults = faults
        self._order = self._phase_order()

    def phases(self) -> tuple[Phase, ...]:
        """In the order of the flight."""
        if not self._order:
            place = self._sheets.layer.head.at.place(key=True)
            self._faults.append(Fault(place, "this pack has no phases", "phases: in the order of the flight"))
        known = self._sheets.phases
        return tuple(
            Phase(name, known[name].form.title, known[name].form.code)
            for name in self._order
            if name in known
        )

    def _phase_order(self) -> list[str]:
        """As written, but for new phases that ask to stand before one of the base pack."""
        order = self._sheets.known("phases")
        for name, filled in self._sheets.phases.items():
            before = filled.form.before
            if before in order and before != name:
                order.remove(name)
                order.insert(order.index(before), name)
        return order

    def gates(self) -> tuple[Gate, ...]:
        """In the order of their phases."""
        gates = [gate for name, filled in self._sheets.gates.items() if (gate := self._gate(name, filled))]
        self._refuse_unneeded(gates)
        return tuple(sorted(gates, key=lambda gate: self._order.index(gate.phase)))

    def _gate(self, name: str, filled: Filled[GateForm]) -> Gate | None:
        """One gate, None where its phase is not there."""
        form, entry = filled.form, filled.entry
        needs = self._references.needs(form.needs, entry.spot("needs"))
        cue, entered = self._conditions.of(entry, "cue"), self._conditions.of(entry, "entry")
        if not self._references.known(form.phase, self._order, entry.spot("phase"), "phase"):
            return None
        leaves = self._leaves(filled)
        if cue is None or entered is None:
            raise AssertionError("a gate's form holds both conditions")
        phase = self._sheets.phases.get(form.phase)
        title = form.title or (phase.form.title if phase else name)
        return Gate(name, title, form.phase, leaves, cue, entered, needs)

    def _leaves(self, filled: Filled[GateForm]) -> tuple[str, ...]:
        """The phases that a gate can be entered from: those named, or every earlier one."""
        form, spot = filled.form, filled.entry.spot("leaves")
        if form.leaves is None:
            leaves = tuple(self._order[: self._order.index(form.phase)])
        else:
            leaves = self._references.each(form.leaves, self._order, spot, "phase")
        if form.phase in leaves:
            place = spot.down(leaves.index(form.phase)).place()
            self._faults.append(Fault(place, "a gate leaves the phase that it leads to", "other phases"))
        if not leaves and not form.leaves:
            place = filled.entry.spot("phase").place()
            self._faults.append(
                Fault(place, f"no phase comes before {form.phase}", "a later phase, or leaves")
            )
        return leaves

    def _refuse_unneeded(self, gates: Collection[Gate]) -> None:
        """A flow or checklist that no gate asks for would never be told."""
        needed = {item for gate in gates for item in gate.needs}
        if len(gates) < len(self._sheets.known("gates")) or not gates:
            return
        for section, kind in (("flows", "flow"), ("checklists", "checklist")):
            for name, entry in self._sheets.layer.sections.get(section, {}).items():
                if needed.isdisjoint(self._references.items_of(kind, name)) and entry.parts:
                    hint = f"put '{kind} {name}' under the needs of a gate"
                    self._faults.append(
                        Fault(entry.at.place(key=True), f"{kind} {name} is needed by no gate", hint=hint)
                    )

    def watches(self) -> tuple[Watch, ...]:
        """Watches, but for those of which all that they expect is dispatched inoperative."""
        found = (self._watch(name, filled) for name, filled in self._sheets.watches.items())
        return tuple(watch for watch in found if watch is not None)

    def _watch(self, name: str, filled: Filled[WatchForm]) -> Watch | None:
        """One watch; None where it watches nothing that works."""
        form, entry = filled.form, filled.entry
        applies = self._conditions.of(entry, "applies")
        expect, excused = self._conditions.of_item(entry, "expect")
        if expect is None:
            raise AssertionError("a watch's form holds its condition")
        watch = Watch(
            id=f"watch.{name}",
            label=form.label,
            seat=form.seat,
            level=form.level,
            applies=applies,
            expect=expect,
            phases=tuple(form.phases),
            finding=form.finding,
            hold_s=form.hold,
            clear_s=form.clear,
            why=form.why,
            source=form.source,
        )
        return None if excused else watch

    def quiets(self) -> tuple[Quiet, ...]:
        """Quiet periods; a warning is never held back."""
        found = []
        for name, filled in self._sheets.quiets.items():
            applies = self._conditions.of(filled.entry, "applies")
            holds = tuple(filled.form.holds)
            for number, level in enumerate(holds):
                if level == "warning":
                    place = filled.entry.spot("holds").down(number).place()
                    self._faults.append(Fault(place, "a warning is never held back", "advisory or caution"))
            if applies is not None:
                found.append(Quiet(name, applies, holds))
        return tuple(found)
