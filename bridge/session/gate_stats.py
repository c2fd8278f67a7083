"""Statistics of each gate that was cued: open items at the cue, and how early the crew was ready.

Takes: events in their order.  Gives: a `GatePassage` for each cued gate.
"""

from __future__ import annotations

from dataclasses import dataclass

import msgspec
from msgspec.structs import replace

from bridge.session.session_events import SessionEvent
from rules.judge.events import GateCued, GateEntered, MonitorsReset, VerdictChanged
from rules.judge.gate_counts import OPEN_STATUSES, GateCounts, gate_text
from rules.packs.model import Pack


class GatePassage(msgspec.Struct, frozen=True):
    """One gate from its cue to its entry; times in seconds of the simulator, `number` counts from 1 in a session.

    `judged` of `needs` could be judged, at the entry, or at the cue before it; None if that was not recorded.  `ready_s` is the time since which no need of the gate has been open, up to the entry (or up to now before it);
    None while one is open.  `entered_s` is None before the entry.  A gate that is cued again before its entry keeps
    its number and has the later cue.
    """

    number: int = msgspec.field(name="number")
    gate: str = msgspec.field(name="gate")
    title: str = msgspec.field(name="title")
    phase: str = msgspec.field(name="phase")
    needs: int = msgspec.field(name="needs")
    cue_s: float = msgspec.field(name="cue_s")
    open_at_cue: int = msgspec.field(name="open_at_cue")
    entered_s: float | None = msgspec.field(default=None, name="entered_s")
    ready_s: float | None = msgspec.field(default=None, name="ready_s")
    carried: int = msgspec.field(default=0, name="carried")
    judged: int | None = msgspec.field(default=None, name="judged")

    @property
    def fully_judged(self) -> bool:
        """Return true if every need that counts was judged."""
        return self.judged == self.needs

    @property
    def text(self) -> str:
        """Return what was open at the cue and how much was judged as words; the latter may be a count of the entry."""
        if self.judged is None:
            return f"{self.open_at_cue} open"
        text = gate_text(GateCounts(self.needs, self.judged, self.open_at_cue))
        return text if self.entered_s is None else f"{text} at the entry"

    @property
    def spare_s(self) -> float | None:
        """Return the time from the last open item to the entry, in seconds; None if one was open, or before the entry."""
        if self.ready_s is None or self.entered_s is None:
            return None
        return self.entered_s - self.ready_s


@dataclass(slots=True)
class _Readiness:
    """Open needs of one gate: `since_s` is when the last one closed, `reopened_s` when the first one opened again.

    An item that is lost in the very sample of the entry was lost by the entry itself, and must not count:

        open needs   1 ... 1  0 ........ 0  1
        time                  ^since_s      ^reopened_s == time of the entry: ready since `previous_since_s`
    """

    open: set[str]
    since_s: float | None
    reopened_s: float | None = None
    previous_since_s: float | None = None

    def update(self, item: str, sim_s: float, *, is_open: bool) -> None:
        """Record the change of one need."""
        before = bool(self.open)
        (self.open.add if is_open else self.open.discard)(item)
        if self.open and not before:
            self.previous_since_s, self.since_s, self.reopened_s = self.since_s, None, sim_s
        elif before and not self.open:
            self.since_s = self.previous_since_s if self.reopened_s == sim_s else sim_s

    def ready_since(self, sim_s: float) -> float | None:
        """Return since when no need is open; one that opened at `sim_s` itself does not count."""
        return self.previous_since_s if self.open and self.reopened_s == sim_s else self.since_s


class GateStats:
    """A listener that collects the gate passages of a session.

    Attributes:
        passages: in the order of their first cues.
    """

    def __init__(self, pack: Pack) -> None:
        self.passages: list[GatePassage] = []
        self._gates = {gate.id: gate for gate in pack.gates}
        self._gates_of_item: dict[str, list[str]] = {}
        self._readiness: dict[str, _Readiness] = {}
        self._current: dict[str, int] = {}
        for gate in pack.gates:
            for item in gate.needs:
                self._gates_of_item.setdefault(item, []).append(gate.id)
        self._reset(0.0)

    def __call__(self, event: SessionEvent) -> None:
        """Fold one event, as a listener."""
        self.fold(event)

    def fold(self, event: SessionEvent) -> GatePassage | None:
        """Fold one event.

        Args:
            event: any event.

        Returns:
            The passage that the event started or changed; None if it concerns no passage.
        """
        match event:
            case VerdictChanged():
                for gate in self._gates_of_item.get(event.item, ()):
                    self._readiness[gate].update(
                        event.item, event.sim_s, is_open=event.status in OPEN_STATUSES
                    )
            case GateCued():
                return self._fold_cue(event)
            case GateEntered():
                return self._fold_entry(event)
            case MonitorsReset():
                self._reset(event.sim_s)
            case _:
                pass
        return None

    def _reset(self, sim_s: float) -> None:
        """Forget the state of all needs, and the cues that wait for an entry."""
        self._readiness = {gate: _Readiness(set(), sim_s) for gate in self._gates}
        self._current.clear()

    def _fold_cue(self, event: GateCued) -> GatePassage:
        number = self._current.get(event.gate)
        if number is None:
            number = self._current[event.gate] = len(self.passages) + 1
            self.passages.append(self._new_passage(number, event))
        cued = replace(
            self.passages[number - 1],
            cue_s=event.sim_s,
            open_at_cue=event.open_items,
            needs=event.needs,
            judged=event.judged,
            ready_s=self._ready_s(event.gate, event.sim_s),
        )
        self.passages[number - 1] = cued
        return cued

    def _new_passage(self, number: int, event: GateCued) -> GatePassage:
        """Make the passage of a first cue; a gate that the pack lacks is named by its id."""
        gate = self._gates.get(event.gate)
        title, phase = (gate.title, gate.phase) if gate is not None else (event.gate, "")
        return GatePassage(number, event.gate, title, phase, event.needs, event.sim_s, event.open_items)

    def _ready_s(self, gate: str, sim_s: float) -> float | None:
        """Return since when no need is open; None for a gate that the pack lacks."""
        readiness = self._readiness.get(gate)
        return readiness.ready_since(sim_s) if readiness is not None else None

    def _fold_entry(self, event: GateEntered) -> GatePassage | None:
        number = self._current.pop(event.gate, None)
        if number is None:
            return None  # its cue came before this listener was added
        entered = replace(
            self.passages[number - 1],
            entered_s=event.sim_s,
            needs=event.needs,
            judged=event.judged,
            ready_s=None if event.carried else self._ready_s(event.gate, event.sim_s),
            carried=event.carried,
        )
        self.passages[number - 1] = entered
        return entered
