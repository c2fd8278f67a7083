"""Builder of snapshots: rebuilds only what changed since the last one.

Judging only stamps a changed item or watch with a version.  All other changes are found by comparison:

    changed since the last snapshot        rebuilt
    ----------------------------------     ------------------------------------------------------------
    state of an item or watch              it, and the items and watches whose condition reads that item
    sample of a signal                     unsatisfied items and watches that read it, also through a figure
    a call                                 unsatisfied items and watches that wait for a call
    time alone                             unsatisfied items and watches that measure time (`for`, `in the last`)
    open findings                          the items and watches that have one now, or had one
    an item                                gates that need it, checklists that read it
    cue of a gate, or a sample             the gate; checklists with that signal in an answer
    phase, or what a need waits for        the gates that need it
    an open finding                        all gates

A satisfied item has no sentence, unless its pack gives it one of its own, so no change of a signal concerns it: only open
items are explained, and of these only those whose words are read.  What was read in the last snapshot is explained again at once,
and compared.  A part that is not rebuilt is the same object as in the last snapshot.

Takes: the parts of a judge.  Gives: `Snapshot`.
"""

from __future__ import annotations

import operator
from collections.abc import Collection, Iterable, Mapping
from functools import partial
from types import MappingProxyType

from rules.judge.condition_ids import expect_id
from rules.judge.events import Finding, ItemStatus
from rules.judge.gate_counts import OPEN_STATUSES, count_others
from rules.judge.items import ItemState, verdict_of
from rules.judge.own_sentences import own_sentence, signals_in_sentences
from rules.judge.signal_text import fill_placeholders
from rules.judge.snapshot import (
    SATISFIED,
    ChecklistLineSnapshot,
    ChecklistSnapshot,
    GateSnapshot,
    ItemSnapshot,
    Snapshot,
    WatchSnapshot,
    WatchStatus,
)
from rules.judge.snapshot_inputs import Change, ConditionInputs
from rules.judge.snapshot_renewal import differing_names, make_due, renewed_words, replaced
from rules.judge.snapshot_words import NO_WORDS, LazyWords, Words
from rules.judge.stepper import Stepper
from rules.judge.watches import WatchState
from rules.judge.wording import actual_and_wanted
from rules.packs.model import ChecklistLine, Gate, Item, Watch
from rules.signals.model import Sample

_EXPLAINED_WATCHES = frozenset({WatchStatus.VIOLATED, WatchStatus.UNKNOWN})


class OutdatedSnapshotError(RuntimeError):
    """Words of a current snapshot were read after the next step."""


class SnapshotBuilder:
    """Builds the snapshots of one judge; each builder keeps its own last snapshot."""

    def __init__(self, stepper: Stepper, *, explain_all: bool = False) -> None:
        """Index what depends on what.

        Args:
            stepper: Parts of the judge.
            explain_all: True to give sentences to satisfied items and watches too.
        """
        pack = stepper.context.pack
        self._stepper = stepper
        self._explain_all = explain_all
        self._item_inputs = ConditionInputs(
            {i.id: i.condition for i in pack.items.values()}, pack, _texts(pack.items.values())
        )
        self._watch_inputs = ConditionInputs(
            {watch.id: watch.expect for watch in pack.watches}, pack, _texts(pack.watches)
        )
        subjects: tuple[Item | Watch, ...] = (*pack.items.values(), *pack.watches)
        self._explained = frozenset(one.id for one in subjects if one.say.met)
        self._placeholders = {
            line.id: frozenset[str]().union(*line.shown.values())
            for checklist in pack.checklists.values()
            for line in checklist.lines
        }
        self._answer_signals = frozenset[str]().union(*self._placeholders.values())
        self._last: Snapshot | None = None
        self._version = -1
        self._complete: Snapshot | None = None
        self._call_changes = 0
        self._open: frozenset[str] = frozenset()

    def snapshot(self) -> Snapshot:
        """Present snapshot with all words; the last one if no step or request came since."""
        present = self.current()
        if self._complete is not present:
            for parts in (present.items, present.watches):
                for one in parts.values():
                    one.words.read()
            self._complete = present
        return present

    def current(self) -> Snapshot:
        """Present snapshot, with words that can be read until the next step; the last one if no step or request came since."""
        context = self._stepper.context
        if self._last is None or self._version != context.version:
            last, last_version = self._last, self._version
            self._last, self._version = None, context.version  # after an error all is built again
            self._last = self._build(last, last_version)
        return self._last

    def _build(self, last: Snapshot | None, last_version: int) -> Snapshot:
        """Build a snapshot; all of it if there is no last one."""
        stepper, context = self._stepper, self._stepper.context
        samples = context.state.samples()
        change = self._change_since(last, last_version, samples)
        items, made_again = renewed_words(last.items if last else None, self._items_due(last, change))
        open_findings = tuple(stepper.finding_log.open_in_order())
        watches, _ = renewed_words(last.watches if last else None, self._watches_due(last, change))
        return Snapshot(
            context.sim_s,
            context.state.recv_s,
            context.phase,
            context.phase_title(context.phase),
            items,
            self._gates(last, items, made_again, open_findings),
            self._checklists(last, items, made_again, change),
            watches,
            stepper.traces.snapshots,
            tuple(stepper.finding_log.findings),
            open_findings,
            frozenset(context.phase_of_call),
            stepper.notices.quiet_levels,
            MappingProxyType(samples),
            MappingProxyType(context.state.carried_at_s()),
        )

    def _change_since(
        self, last: Snapshot | None, last_version: int, samples: Mapping[str, Sample]
    ) -> Change:
        """Find what changed since the last snapshot."""
        stepper, open_now = self._stepper, self._stepper.finding_log.open_items()
        call_changes = stepper.context.call_changes
        change = Change(
            frozenset(differing_names(last.samples if last else {}, samples)),
            frozenset(name for name, state in stepper.items.states.items() if state.version >= last_version),
            frozenset(
                name for name, state in stepper.watches.states.items() if state.version >= last_version
            ),
            open_now ^ self._open,
            calls_changed=call_changes != self._call_changes,
        )
        self._open, self._call_changes = open_now, call_changes
        return change

    # -- items and watches -------------------------------------------------------------------------

    def _items_due(self, last: Snapshot | None, change: Change) -> dict[str, ItemSnapshot]:
        """Rebuild the items that changed; all of them if there is no last snapshot."""
        states = self._stepper.items.states
        if last is None:
            return {name: self._item(state) for name, state in states.items()}
        explained = (
            name
            for name, item in last.items.items()
            if self._explain_all or not item.satisfied or name in self._explained
        )
        affected = self._item_inputs.affected(explained, change)
        changed = change.items | (change.findings & states.keys())
        return make_due(last.items, states, affected, changed, self._item)

    def _watches_due(self, last: Snapshot | None, change: Change) -> dict[str, WatchSnapshot]:
        """Rebuild the watches that changed; all of them if there is no last snapshot."""
        states = self._stepper.watches.states
        if last is None:
            return {name: self._watch(state) for name, state in states.items()}
        explained = (
            name
            for name, watch in last.watches.items()
            if self._explain_all or watch.status in _EXPLAINED_WATCHES or name in self._explained
        )
        affected = self._watch_inputs.affected(explained, change)
        changed = change.watches | (change.findings & states.keys())
        return make_due(last.watches, states, affected, changed, self._watch)

    def _item(self, state: ItemState) -> ItemSnapshot:
        """Snapshot of one item."""
        item = state.item
        return ItemSnapshot(
            item.id,
            item.label,
            item.seat,
            item.level,
            state.status,
            verdict_of(state.truth),
            LazyWords(partial(self._item_words, state)),
            item.why,
            state.since_s,
            state.last_met_s,
            state.confirmed_by,
            self._stepper.items.waiver_text(state),
            item.id in self._open,
            state.waived_by,
            state.waived_s,
            state.waiver_can_be_undone,
        )

    def _watch(self, state: WatchState) -> WatchSnapshot:
        """Snapshot of one watch."""
        watch = state.watch
        return WatchSnapshot(
            watch.id,
            watch.label,
            watch.seat,
            watch.level,
            state.status,
            LazyWords(partial(self._watch_words, state)),
            watch.why,
            state.since_s,
            watch.id in self._open,
        )

    def _item_words(self, state: ItemState) -> Words:
        """Say why an item is not satisfied now."""
        self._require_present()
        item, words, error = state.item, NO_WORDS, ""
        if self._explain_all or state.status not in SATISFIED:
            reason = self._stepper.items.reason(state)
            words, error = (
                Words(reason.sentence, *actual_and_wanted(reason), reason.only_waits),
                reason.entry_error,
            )
        if state.status is ItemStatus.WAIVED:
            return words
        own = own_sentence(item, state.truth, self._stepper.context.state, error)
        return words._replace(sentence=own) if own else words

    def _watch_words(self, state: WatchState) -> Words:
        """Say why a watch does not hold now."""
        self._require_present()
        watch, sentence, error = state.watch, "", ""
        if self._explain_all or state.status in _EXPLAINED_WATCHES:
            reason = self._stepper.context.monitors.explain(expect_id(watch.id))
            sentence, error = reason.sentence, reason.entry_error
        return Words(own_sentence(watch, state.truth, self._stepper.context.state, error) or sentence)

    def _require_present(self) -> None:
        """Refuse to compose words from a state that came after their snapshot."""
        if self._version != self._stepper.context.version:
            raise OutdatedSnapshotError("these words were not read before the next step; take a new snapshot")

    # -- gates and checklists ----------------------------------------------------------------------

    def _gates(
        self,
        last: Snapshot | None,
        items: Mapping[str, ItemSnapshot],
        made_again: Collection[str],
        open_findings: tuple[Finding, ...],
    ) -> Mapping[str, GateSnapshot]:
        """Gates; those that changed or need a rebuilt item are rebuilt, all of them when a finding opens or closes."""
        gates, later = self._stepper.context.gates, self._stepper.later_needs.ids()
        moments = {name: self._moment(gate, later) for name, gate in gates.items()}
        due: Collection[str] = gates.keys()
        if last is not None and last.open_findings == open_findings:
            due = {gate for item in made_again for gate in self._stepper.gate_requirements.gates_of(item)}
            due |= {
                name
                for name, gate in last.gates.items()
                if (gate.active, gate.cued_s, gate.later) != moments[name]
            }
        made = {name: _gate(gates[name], items, moments[name], open_findings) for name in due}
        if last is None:
            return MappingProxyType({name: made[name] for name in gates})
        same = {name for name, gate in made.items() if _is_same_gate(last.gates[name], gate)}
        return replaced(last.gates, {name: gate for name, gate in made.items() if name not in same})

    def _moment(self, gate: Gate, later: frozenset[str]) -> tuple[bool, float | None, frozenset[str]]:
        """Return whether a gate is active, the time of its cue, and which of its needs cannot be met yet."""
        cued_s = self._stepper.gates.states[gate.id].cued_s
        waiting = later.intersection(gate.needs) if cued_s is None else frozenset[str]()
        return gate.id in self._stepper.context.active_gates, cued_s, waiting

    def _checklists(
        self,
        last: Snapshot | None,
        items: Mapping[str, ItemSnapshot],
        made_again: Collection[str],
        change: Change,
    ) -> Mapping[str, ChecklistSnapshot]:
        """Checklists; lines whose item or answer changed are rebuilt."""
        if last is not None and not made_again and self._answer_signals.isdisjoint(change.signals):
            return last.checklists
        made: dict[str, ChecklistSnapshot] = {}
        for name, checklist in self._stepper.context.pack.checklists.items():
            old = last.checklists[name] if last is not None else None
            old_lines = old.lines if old is not None else (None,) * len(checklist.lines)
            pairs = zip(checklist.lines, old_lines, strict=True)
            lines = tuple(self._line(line, items, known, change) for line, known in pairs)
            unchanged = old is not None and all(map(operator.is_, lines, old.lines))
            if not unchanged:
                made[name] = ChecklistSnapshot(checklist.id, checklist.title, checklist.read_by, lines)
        return replaced(last.checklists if last is not None else {}, made)

    def _line(
        self,
        line: ChecklistLine,
        items: Mapping[str, ItemSnapshot],
        old: ChecklistLineSnapshot | None,
        change: Change,
    ) -> ChecklistLineSnapshot:
        """Snapshot of one line; the old one where nothing changed in it."""
        read = tuple(items[name] for name in line.items)
        same_items = old is not None and all(map(operator.is_, read, old.items))
        if old is not None and same_items and self._placeholders[line.id].isdisjoint(change.signals):
            return old
        answer = fill_placeholders(line.answer, self._stepper.context.state, line.shown)
        if old is not None and same_items and answer == old.answer:
            return old
        return ChecklistLineSnapshot(line.id, line.challenge, answer, read)


def _gate(
    gate: Gate,
    items: Mapping[str, ItemSnapshot],
    moment: tuple[bool, float | None, frozenset[str]],
    open_findings: Collection[Finding],
) -> GateSnapshot:
    """Snapshot of one gate."""
    needs = tuple(items[name] for name in dict.fromkeys(gate.needs))
    unmet = {item.id for item in needs if item.status in OPEN_STATUSES}
    other = count_others(open_findings, unmet)
    active, cued_s, later = moment
    return GateSnapshot(gate.id, gate.title, gate.phase, active, cued_s, needs, later, other)


def _is_same_gate(old: GateSnapshot, new: GateSnapshot) -> bool:
    """Compare what can change; a need that differs is another object."""
    return all(map(operator.is_, old.needs, new.needs)) and (
        (old.active, old.cued_s, old.later, old.other_findings)
        == (new.active, new.cued_s, new.later, new.other_findings)
    )


def _texts(subjects: Iterable[Item | Watch]) -> Mapping[str, Collection[str]]:
    """Signals in the own sentences of items or watches, by their ids."""
    return {one.id: names for one in subjects if (names := signals_in_sentences(one))}
