"""Gates as the crew passed them: how much was open at the cue, and how early all was ready.

Takes: entries in the order in which they were told.  Gives: a `Passage` for each gate that was cued.
"""

from __future__ import annotations

from dataclasses import dataclass

import msgspec
from msgspec.structs import replace

from bridge.notes import Told
from rules.judge.entries import GateCued, GateEntered, Life, MonitorsReset, VerdictChanged
from rules.packs.model import Pack

STANDS_OPEN = frozenset({Life.OPEN, Life.LOST})


class Passage(msgspec.Struct, frozen=True):
    """One gate from its cue to its entry; times in seconds of the simulator, `number` counts from 1 in a session.

    `ready_s` is since when all that it needs has been so, up to the entry (up to now while there is none); None where
    something is open.  `entered_s` is None while they have not gone.  A gate that is cued again before it was entered
    keeps its number and has the later cue.
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

    @property
    def spare_s(self) -> float | None:
        """How long all was ready before they went; None where it was not, or they have not gone."""
        if self.ready_s is None or self.entered_s is None:
            return None
        return self.entered_s - self.ready_s


@dataclass(slots=True)
class _Readiness:
    """What of a gate's needs is open; `since_s` is when that last became nothing, `lost_s` when it was last something."""

    open: set[str]
    since_s: float | None
    lost_s: float | None = None
    was_s: float | None = None

    def change(self, item: str, sim_s: float, *, stands_open: bool) -> None:
        """One need changed."""
        before = bool(self.open)
        (self.open.add if stands_open else self.open.discard)(item)
        if self.open and not before:
            self.was_s, self.since_s, self.lost_s = self.since_s, None, sim_s
        elif before and not self.open:
            self.since_s = self.was_s if self.lost_s == sim_s else sim_s

    def at(self, sim_s: float) -> float | None:
        """Since when all is ready, where what was lost in this very sample still counts as it was."""
        return self.was_s if self.open and self.lost_s == sim_s else self.since_s


class Passages:
    """A listener that gathers the passages of a session.

    Attributes:
        passages: all of them, in the order of their first cues.
    """

    def __init__(self, pack: Pack) -> None:
        """Nothing was cued yet."""
        self.passages: list[Passage] = []
        self._gates = {gate.id: gate for gate in pack.gates}
        self._of: dict[str, list[str]] = {}
        self._ready: dict[str, _Readiness] = {}
        self._running: dict[str, int] = {}
        for gate in pack.gates:
            for item in gate.needs:
                self._of.setdefault(item, []).append(gate.id)
        self._begin(0.0)

    def __call__(self, told: Told) -> None:
        """Take one entry, as a listener."""
        self.take(told)

    def take(self, told: Told) -> Passage | None:
        """Take one entry.

        Args:
            told: any entry or note.

        Returns:
            The passage that it began, changed or ended; None for any other entry.
        """
        match told:
            case VerdictChanged():
                for gate in self._of.get(told.item, ()):
                    self._ready[gate].change(told.item, told.sim_s, stands_open=told.life in STANDS_OPEN)
            case GateCued():
                return self._cue(told)
            case GateEntered():
                return self._enter(told)
            case MonitorsReset():
                self._begin(told.sim_s)
            case _:
                pass
        return None

    def _begin(self, sim_s: float) -> None:
        """Nothing is known of any need, and nothing that was cued is waited for."""
        self._ready = {gate: _Readiness(set(), sim_s) for gate in self._gates}
        self._running.clear()

    def _cue(self, told: GateCued) -> Passage:
        number = self._running.get(told.gate)
        if number is None:
            number = self._running[told.gate] = len(self.passages) + 1
            self.passages.append(self._begun(number, told))
        cued = replace(
            self.passages[number - 1],
            cue_s=told.sim_s,
            open_at_cue=told.open_items,
            ready_s=self._ready_s(told.gate, told.sim_s),
        )
        self.passages[number - 1] = cued
        return cued

    def _begun(self, number: int, told: GateCued) -> Passage:
        """A passage at its first cue; a gate that the pack does not know goes by its id."""
        gate = self._gates.get(told.gate)
        title, phase = (gate.title, gate.phase) if gate is not None else (told.gate, "")
        needs = len(dict.fromkeys(gate.needs)) if gate is not None else 0
        return Passage(number, told.gate, title, phase, needs, told.sim_s, told.open_items)

    def _ready_s(self, gate: str, sim_s: float) -> float | None:
        """Since when all is ready; None for a gate that the pack does not know."""
        readiness = self._ready.get(gate)
        return readiness.at(sim_s) if readiness is not None else None

    def _enter(self, told: GateEntered) -> Passage | None:
        number = self._running.pop(told.gate, None)
        if number is None:
            return None  # its cue was told before this was listened to
        entered = replace(
            self.passages[number - 1],
            entered_s=told.sim_s,
            ready_s=None if told.carried else self._ready_s(told.gate, told.sim_s),
            carried=told.carried,
        )
        self.passages[number - 1] = entered
        return entered
