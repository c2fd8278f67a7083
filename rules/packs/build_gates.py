"""Phases, gates, watches and quiet periods of a pack.

Takes: the validated pack, its references and conditions.  Gives: the frozen types of `model`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from itertools import chain

from rules.faults import Fault
from rules.language.check.constant_reason import hint_of_exclusion
from rules.language.check.satisfiability import excludes
from rules.packs.conditions import ConditionChecker, MatchedConditions
from rules.packs.matches import label_faults, match_id, match_label
from rules.packs.model import Gate, Phase, QuietPeriod, Watch
from rules.packs.own_sentences import own_sentences
from rules.packs.references import References
from rules.packs.schema import GateForm, QuietForm, WatchForm
from rules.packs.validated import FilledForm, ValidatedPack
from rules.source import unknown_fault


class GateBuilder:
    """Builds phases, gates, watches and quiet periods."""

    def __init__(
        self,
        validated: ValidatedPack,
        references: References,
        conditions: ConditionChecker,
        faults: list[Fault],
    ) -> None:
        """Determine the order of the phases, on which the rest depends."""
        self._validated = validated
        self._references = references
        self._conditions = conditions
        self._faults = faults
        self._phase_ids = self._phase_order()
        self._lasting = self._lasting_items()

    def phases(self) -> tuple[Phase, ...]:
        """Phases in the order of the flight."""
        if not self._phase_ids:
            place = self._validated.layer.header.location.place(key=True)
            self._faults.append(Fault(place, "this pack has no phases", "phases: in the order of the flight"))
        phases = self._validated.phases
        return tuple(
            Phase(name, phases[name].form.title, phases[name].form.code)
            for name in self._phase_ids
            if name in phases
        )

    def _phase_order(self) -> list[str]:
        """Ids of the phases as written; a phase with `before` is put in front of that phase."""
        order = self._validated.ids("phases")
        for name, filled in self._validated.phases.items():
            before = filled.form.before
            if before in order and before != name:
                order.remove(name)
                order.insert(order.index(before), name)
        return order

    def gates(self) -> tuple[Gate, ...]:
        """Gates in the order of their phases."""
        gates = [gate for name, filled in self._validated.gates.items() if (gate := self._gate(name, filled))]
        gates = [self._with_lasting_items(gate) for gate in gates]
        self._refuse_unused(gates)
        return tuple(sorted(gates, key=lambda gate: self._phase_ids.index(gate.phase)))

    def _gate(self, name: str, filled: FilledForm[GateForm]) -> Gate | None:
        """Build one gate; None where its phase is unknown."""
        form, entry = filled.form, filled.entry
        needs = self._references.needed_items(form.needs, entry.field_location("needs"))
        cue, entered = self._conditions.condition(entry, "cue"), self._conditions.condition(entry, "entry")
        if not self._references.is_known(form.phase, self._phase_ids, entry.field_location("phase"), "phase"):
            return None
        leaves = self._phases_before(filled)
        if cue is None or entered is None:
            raise AssertionError("a gate's form holds both conditions")
        phase = self._validated.phases.get(form.phase)
        title = form.title or (phase.form.title if phase else name)
        return Gate(name, title, form.phase, leaves, cue, entered, needs)

    def _with_lasting_items(self, gate: Gate) -> Gate:
        """Add the items that must stay as they are up to this gate or longer.

        A gate that leads back to an earlier phase has none: what must be so there follows from what was given up.
        """
        at = self._phase_ids.index(gate.phase)
        if all(self._phase_ids.index(phase) > at for phase in gate.leaves):
            return gate
        lasting = [
            match
            for item, (begins, ends) in self._lasting.items()
            if begins < at <= ends
            for match in self._references.matches_of(item)
        ]
        return replace(gate, needs=tuple(dict.fromkeys([*gate.needs, *lasting])))

    def _lasting_items(self) -> Mapping[str, tuple[int, int]]:
        """Items with an `until`, their own or their flow's, each with the positions of its flow's phase and of its last phase."""
        found: dict[str, tuple[int, int]] = {}
        for name, filled in self._validated.items.items():
            flow = self._validated.flows.get(name.split(".")[1])
            if flow is None or flow.form.phase not in self._phase_ids:
                continue
            until, named_by = filled.form.until, filled.entry
            if until is None:
                until, named_by = flow.form.until, flow.entry
            if until is None:
                continue
            location = named_by.field_location("until")
            if not self._references.is_known(until, self._phase_ids, location, "phase"):
                continue
            begins, ends = self._phase_ids.index(flow.form.phase), self._phase_ids.index(until)
            if ends <= begins:
                what = f"{until} is not later than {flow.form.phase}, the phase of its flow"
                self._faults.append(Fault(location.place(), what, "a later phase"))
            found[name] = begins, ends
        return found

    def _phases_before(self, filled: FilledForm[GateForm]) -> tuple[str, ...]:
        """Phases from which a gate can be entered: those named, or every earlier one."""
        form, location = filled.form, filled.entry.field_location("leaves")
        if form.leaves is None:
            leaves = tuple(self._phase_ids[: self._phase_ids.index(form.phase)])
        else:
            leaves = self._references.known_names(form.leaves, self._phase_ids, location, "phase")
        if form.phase in leaves:
            place = location.child(leaves.index(form.phase)).place()
            self._faults.append(Fault(place, "a gate's leaves contains its own phase", "other phases"))
        if not leaves and not form.leaves:
            place = filled.entry.field_location("phase").place()
            self._faults.append(
                Fault(place, f"no phase comes before {form.phase}", "a later phase, or leaves")
            )
        return leaves

    def _refuse_unused(self, gates: Collection[Gate]) -> None:
        """Report flows and checklists that no gate needs, since they would never be judged."""
        needed = {item for gate in gates for item in gate.needs}
        if len(gates) < len(self._validated.ids("gates")) or not gates:
            return
        for section, kind in (("flows", "flow"), ("checklists", "checklist")):
            for name, entry in self._validated.layer.sections.get(section, {}).items():
                items = map(self._references.matches_of, self._references.items_of(kind, name))
                if needed.isdisjoint(chain.from_iterable(items)) and entry.parts:
                    hint = f"put '{kind} {name}' under the needs of a gate"
                    self._faults.append(
                        Fault(
                            entry.location.place(key=True),
                            f"{kind} {name} is not needed by any gate",
                            hint=hint,
                        )
                    )

    def watches(self) -> tuple[Watch, ...]:
        """Watches, one for each match of a `*`, without those that expect something of inoperative signals alone."""
        return tuple(
            self._watch(name, filled, matched)
            for name, filled in self._validated.watches.items()
            for matched in self._conditions.rule(filled.entry, "expect", "applies")
            if not matched.waived
        )

    def _watch(self, name: str, filled: FilledForm[WatchForm], matched: MatchedConditions) -> Watch:
        """Build one match of a watch."""
        form = filled.form
        if matched.main is None:
            raise AssertionError("a watch's form holds its condition")
        if matched.second is not None and excludes(matched.second, matched.main):
            what, expected = "this is never true while the watch applies", "a condition that can then be true"
            place = filled.entry.field_location("expect").place()
            hint = hint_of_exclusion(matched.second, matched.main)
            self._faults.append(Fault(place, what, expected, hint))
        self._faults += label_faults(form.label, filled.entry.field_location("label"), matched)
        return Watch(
            id=match_id(f"watch.{name}", matched.match.word),
            label=match_label(form.label, matched.match),
            seat=form.seat,
            level=form.level,
            applies=matched.second,
            expect=matched.main,
            phases=tuple(form.phases),
            finding=form.finding,
            owner=form.owner or "",
            hold_s=form.hold,
            clear_s=form.clear,
            repeats=form.repeat == "yes",
            why=form.why,
            source=form.source,
            say=own_sentences(filled.entry, form.say, matched, self._conditions.scope, self._faults),
        )

    def quiet_periods(self) -> tuple[QuietPeriod, ...]:
        """Quiet periods; a warning is held back only by the name of its watch."""
        found = []
        for name, filled in self._validated.quiets.items():
            applies = self._conditions.condition(filled.entry, "applies")
            holds = tuple(filled.form.holds)
            for number, level in enumerate(holds):
                if level == "warning":
                    place = filled.entry.field_location("holds").child(number).place()
                    hint = "a warning that has to wait is named under watches"
                    what = "warnings are never held back together"
                    self._faults.append(Fault(place, what, "advisory or caution", hint))
            if applies is not None:
                found.append(QuietPeriod(name, applies, holds, self._quiet_watches(filled)))
        return tuple(found)

    def _quiet_watches(self, filled: FilledForm[QuietForm]) -> frozenset[str]:
        """Ids of the watches that a quiet period names."""
        known = self._validated.ids("watches")
        for number, watch in enumerate(filled.form.watches):
            if watch not in known:
                place = filled.entry.field_location("watches").child(number).place()
                self._faults.append(unknown_fault(place, "watch", watch, known, "a watch of the pack"))
        return frozenset(f"watch.{watch}" for watch in filled.form.watches)
