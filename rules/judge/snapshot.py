"""Snapshot: the state of a judge at one time, frozen, for screens and reports.

Takes: nothing.  Gives: frozen types, built by `Judge.snapshot`.  Later steps do not change them;
words of a `Judge.current_snapshot` that were not read before the next step cannot be read after it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from rules.faults import InputFaults, Place
from rules.judge.events import Finding, ItemStatus, TraceColumn, TraceMarkTime, Verdict
from rules.judge.gate_counts import OPEN_STATUSES, GateCounts, count_needs, gate_text_parts
from rules.judge.snapshot_words import LazyWords
from rules.packs.model import Level, TraceLimit
from rules.signals.model import Quality, Sample, Signal
from rules.source import unknown_fault

SATISFIED = frozenset({ItemStatus.MET, ItemStatus.CONFIRMED, ItemStatus.WAIVED})
"""Statuses of an item that needs no more action."""


class WatchStatus(StrEnum):
    """Status of a watch."""

    NOT_APPLICABLE = "does not apply"
    HOLDS = "holds"
    VIOLATED = "does not hold"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class ItemSnapshot:
    """One item; `since_s` is when it got its truth, `finding_open` is true if a finding on it is open.

    `sentence`, `actual` and `wanted`, of its `words`, say why it is not satisfied; they are '' for an item that is met, confirmed or waived,
    but for a sentence of the pack's own for an item that is met.
    `last_met_s` is the end of the latest time for which it was met long enough to count, None if it never was.
    `confirmed_by` is the seat that confirmed it, `waiver` the reason for which it is waived, and who waived it.
    `waived_by` is who waived it, and `waived_s` since when, None before the first frame.  `waiver_can_be_undone` is True if
    it was waived by request; what the trip sheet waives stays waived.
    `only_waits` is True where it is not met only because what is so now has not been so for long enough.
    """

    id: str
    label: str
    seat: str
    level: Level
    status: ItemStatus
    verdict: Verdict
    words: LazyWords
    why: str
    since_s: float
    last_met_s: float | None
    confirmed_by: str
    waiver: str
    finding_open: bool
    waived_by: str = ""
    waived_s: float | None = None
    waiver_can_be_undone: bool = False

    @property
    def sentence(self) -> str:
        """Why it is not satisfied, in a sentence."""
        return self.words.read().sentence

    @property
    def actual(self) -> str:
        """Values that it has."""
        return self.words.read().actual

    @property
    def wanted(self) -> str:
        """Values that it needs."""
        return self.words.read().wanted

    @property
    def only_waits(self) -> bool:
        """True if only its time has to pass."""
        return self.words.read().only_waits

    @property
    def satisfied(self) -> bool:
        """True if it needs no more action."""
        return self.status in SATISFIED


@dataclass(frozen=True, slots=True)
class GateSnapshot:
    """One gate; `active` if it can be entered from the present phase, `cued_s` is None without a cue, `needs` in its order.

    `later` are the ids of needs that cannot be met yet, none once the gate is cued.  `other_findings` is the number of
    open findings about anything but its unmet needs.
    """

    id: str
    title: str
    phase: str
    active: bool
    cued_s: float | None
    needs: tuple[ItemSnapshot, ...]
    later: frozenset[str] = frozenset()
    other_findings: int = 0

    @property
    def cued(self) -> bool:
        """True if the gate is cued."""
        return self.cued_s is not None

    @property
    def _later_ids(self) -> frozenset[str]:
        """Needs with which there is nothing to do now: they cannot be met yet, or only their time has to pass."""
        return (
            self.later if self.cued else self.later.union(item.id for item in self.needs if item.only_waits)
        )

    @property
    def counts(self) -> GateCounts:
        """Counts of its needs."""
        return count_needs(self.needs, self._later_ids, self.other_findings)

    @property
    def text_parts(self) -> list[str]:
        """Counts of its needs as words, in parts."""
        return gate_text_parts(self.counts, cued=self.cued)

    @property
    def text(self) -> str:
        """Counts of its needs as words."""
        return ", ".join(self.text_parts)

    @property
    def unmet_items(self) -> tuple[ItemSnapshot, ...]:
        """Needs that are not met, without those that have no data."""
        return tuple(item for item in self.needs if item.status in OPEN_STATUSES)

    @property
    def open_items(self) -> tuple[ItemSnapshot, ...]:
        """Unmet needs that can be met now."""
        return tuple(item for item in self.unmet_items if item.id not in self._later_ids)

    @property
    def later_items(self) -> tuple[ItemSnapshot, ...]:
        """Unmet needs that cannot be met yet."""
        return tuple(item for item in self.unmet_items if item.id in self._later_ids)

    @property
    def no_data_items(self) -> tuple[ItemSnapshot, ...]:
        """Needs that are not known: without data, or seen before and not known now."""
        unknown = (ItemStatus.NO_DATA, ItemStatus.UNKNOWN)
        return tuple(item for item in self.needs if item.status in unknown)

    @property
    def met_items(self) -> tuple[ItemSnapshot, ...]:
        """Needs that are met or confirmed."""
        return tuple(item for item in self.needs if item.status in (ItemStatus.MET, ItemStatus.CONFIRMED))

    @property
    def waived_items(self) -> tuple[ItemSnapshot, ...]:
        """Needs that are waived."""
        return tuple(item for item in self.needs if item.status is ItemStatus.WAIVED)


@dataclass(frozen=True, slots=True)
class ChecklistLineSnapshot:
    """One line of a checklist, with its answer filled in from the state, and the items that it reads."""

    id: str
    challenge: str
    answer: str
    items: tuple[ItemSnapshot, ...]

    @property
    def satisfied(self) -> bool:
        """True if all of its items are met, confirmed or waived."""
        return not self.open_items

    @property
    def open_items(self) -> tuple[ItemSnapshot, ...]:
        """Items that are not met, those without data too."""
        return tuple(item for item in self.items if not item.satisfied)

    @property
    def status(self) -> ItemStatus:
        """Status of the line: not met as soon as one item is known not to be; met, where its items are met in several ways."""
        statuses = dict.fromkeys(item.status for item in self.open_items or self.items)
        known = [status for status in statuses if status in OPEN_STATUSES]
        if known or self.open_items or len(statuses) == 1:
            return next(iter(known or statuses))
        return ItemStatus.MET

    @property
    def known_unmet(self) -> bool:
        """True if an item is known not to be met; False where it is met, or all open ones are unknown."""
        return self.status in OPEN_STATUSES


@dataclass(frozen=True, slots=True)
class ChecklistSnapshot:
    """One checklist."""

    id: str
    title: str
    read_by: str
    lines: tuple[ChecklistLineSnapshot, ...]


@dataclass(frozen=True, slots=True)
class WatchSnapshot:
    """One watch; `sentence`, of its `words`, says why it does not hold or is unknown, and is '' otherwise, or the pack's own."""

    id: str
    label: str
    seat: str
    level: Level
    status: WatchStatus
    words: LazyWords
    why: str
    since_s: float
    finding_open: bool

    @property
    def sentence(self) -> str:
        """Why it does not hold or is unknown, in a sentence."""
        return self.words.read().sentence


@dataclass(frozen=True, slots=True)
class TraceSnapshot:
    """An active trace: one value in each column for each of `times_s`."""

    id: str
    title: str
    began_s: float
    times_s: tuple[float, ...]
    columns: tuple[TraceColumn, ...]
    marks: tuple[TraceMarkTime, ...]
    limits: tuple[TraceLimit, ...]


@dataclass(frozen=True, slots=True)
class FigureResult:
    """A figure as it was computed: its name and value, and how the value follows from the inputs."""

    signal: Signal
    label: str
    value: float
    explanation: str


@dataclass(frozen=True, slots=True)
class Snapshot:
    """State at `sim_s` and, by the monotonic clock, at `recv_s`: everything by its id, in the pack's order.

    `open_findings` are those of `findings` that can still be corrected.  `calls` are the calls in effect, `quiet_levels` the levels of notices that are held back.  `samples` are those of all
    signals that a link has carried, `carried_at_s` the times at which one last did.
    """

    sim_s: float
    recv_s: float
    phase: str
    phase_title: str
    items: Mapping[str, ItemSnapshot]
    gates: Mapping[str, GateSnapshot]
    checklists: Mapping[str, ChecklistSnapshot]
    watches: Mapping[str, WatchSnapshot]
    traces: tuple[TraceSnapshot, ...]
    findings: tuple[Finding, ...]
    open_findings: tuple[Finding, ...]
    calls: frozenset[str]
    quiet_levels: tuple[Level, ...]
    samples: Mapping[str, Sample]
    carried_at_s: Mapping[str, float]

    @property
    def quiet(self) -> bool:
        """True while notices of any level are held back."""
        return bool(self.quiet_levels)

    def gate(self, name: str) -> GateSnapshot:
        """Find a gate, active or not.

        Args:
            name: Id of the gate.

        Raises:
            InputFaults: The pack has no such gate.
        """
        if name not in self.gates:
            raise InputFaults([unknown_fault(Place("gate"), "gate", name, self.gates, "a gate of the pack")])
        return self.gates[name]

    def findings_besides(self, gates: Iterable[str]) -> tuple[Finding, ...]:
        """Give the open errors about anything but the unmet needs of these gates.

        Args:
            gates: Ids of gates.
        """
        unmet = {item.id for gate in gates for item in self.gates[gate].unmet_items}
        return tuple(
            finding for finding in self.open_findings if not finding.is_doubt and finding.item not in unmet
        )

    def doubts_besides(self, gates: Iterable[str]) -> tuple[Finding, ...]:
        """Give what is not verifiable now, apart from the needs of these gates, which show it themselves.

        Args:
            gates: Ids of gates.
        """
        needs = {item.id for gate in gates for item in self.gates[gate].needs}
        return tuple(
            finding for finding in self.open_findings if finding.is_doubt and finding.item not in needs
        )

    def sentence_of(self, finding: Finding) -> str:
        """Say why a finding is open: by the present values while its item or watch is not satisfied, else as it opened."""
        item, watch, present = self.items.get(finding.item), self.watches.get(finding.item), ""
        if item is not None and not item.satisfied:
            present = item.sentence
        elif watch is not None and watch.status in (WatchStatus.VIOLATED, WatchStatus.UNKNOWN):
            present = watch.sentence
        return present or finding.crew_sentence

    def sample(self, name: str) -> Sample:
        """Sample of a signal; ABSENT where no link has ever carried it."""
        return self.samples.get(name) or Sample(name, None, Quality.ABSENT, self.sim_s)

    def age_s(self, name: str, now_s: float) -> float | None:
        """Age of a signal: the time since a link last carried it.

        Args:
            name: The signal.
            now_s: The monotonic clock now; earlier than that of the last step counts as that.

        Returns:
            Seconds; None where no link has ever carried it.
        """
        if name not in self.samples:
            return None
        return max(now_s, self.recv_s) - self.carried_at_s.get(name, -math.inf)
