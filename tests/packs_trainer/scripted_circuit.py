"""Scripted flight of the trainer: the values of each signal, step by step, judged by the pack.

Takes: steps, and changed values in some of them.  Gives: `ScriptedCircuit`, the judged flight.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import NamedTuple

from rules.judge.events import Finding, GateEntered, JudgeEvent, Notice, PhaseEntered
from rules.judge.judge import Judge
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet, load_trip_sheet
from rules.signals.model import Frame, Quality, Sample, Signal, SignalKind, Value

STEP_S = 0.5
WORLD = ("trip.", "figure.")
Changes = Mapping[str, Value]


class Step(NamedTuple):
    """A part of the flight: its duration, the values set at its beginning, the calls after them."""

    name: str
    lasts_s: float
    put: Changes
    calls: tuple[str, ...] = ()


@cache
def demo_trip_sheet() -> TripSheet:
    """The trip sheet of the demonstration."""
    return load_trip_sheet(SHIPPED_DIR / "trainer" / "trip_demo.yaml")


@cache
def shipped() -> Pack:
    """The trainer pack."""
    return load_pack("trainer", trip=demo_trip_sheet())


def load_operator_pack(folder: Path) -> Pack:
    """An operator's pack that extends it."""
    return load_pack(str(folder), trip=demo_trip_sheet())


def resting(signal: Signal) -> Value:
    """A possible value of the signal: its first word, or 0, or the end of its range that is nearest to 0."""
    if signal.kind is SignalKind.TEXT:
        return "XHOL"
    return signal.words[0] if signal.words else min(max(0.0, signal.low), signal.high)


@dataclass
class ScriptedCircuit:
    """A judge, and the state of every signal that the simulator sends."""

    pack: Pack = field(default_factory=shipped)
    trip: TripSheet = field(default_factory=demo_trip_sheet)
    without: Sequence[str] = ()
    entries: list[JudgeEvent] = field(default_factory=list)
    sim_s: float = 0.0
    begins: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Start at rest; signals whose names begin with one of `without` are never sent."""
        self.judge = Judge(self.pack, self.trip)
        self.state: dict[str, Value] = {
            name: resting(signal)
            for name, signal in self.pack.signals.items()
            if not name.startswith((*WORLD, *self.without))
        }
        self._sent: dict[str, Value] = {}

    def fly(
        self,
        steps: Iterable[Step],
        wrong: Mapping[str, Changes] | None = None,
        *,
        until: str = "",
        missing_calls: Sequence[str] = (),
    ) -> ScriptedCircuit:
        """Go through the steps.

        Args:
            steps: In order.
            wrong: By step: other or additional values of signals.
            until: Step before which the flight ends; '' for the whole flight.
            missing_calls: Calls that are left out.
        """
        for step in steps:
            if step.name == until:
                break
            self.begins.setdefault(step.name, self.sim_s)
            put = {**step.put, **(wrong or {}).get(step.name, {})}
            self.send(put, [call for call in step.calls if call not in missing_calls])
            for _ in range(round(step.lasts_s / STEP_S) - 1):
                self.send({})
        return self

    def send(self, put: Changes, calls: Sequence[str] = ()) -> None:
        """Send one frame, half a second after the last."""
        self.state |= {name: value for name, value in put.items() if name in self.state}
        self.sim_s += STEP_S
        changes = [
            Sample(n, v, Quality.FRESH, self.sim_s) for n, v in self.state.items() if self._sent.get(n) != v
        ]
        self._sent = dict(self.state)
        frame = Frame("hand", self.sim_s, self.sim_s, 0, tuple(self.state), changes, tuple(calls))
        self.entries += self.judge.judge_frame(frame)

    @property
    def found(self) -> dict[str, str]:
        """Kind of each finding, by its item."""
        return {finding.item: str(finding.kind) for finding in self.judge.findings}

    @property
    def phases(self) -> list[str]:
        """The phases entered so far."""
        return [entry.phase for entry in self.entries if isinstance(entry, PhaseEntered)]

    @property
    def notice_sentences(self) -> list[str]:
        """Sentences of the notices."""
        return [entry.sentence for entry in self.entries if isinstance(entry, Notice)]

    def finding(self, item: str) -> Finding:
        """The finding on an item."""
        return next(finding for finding in self.judge.findings if finding.item == item)

    def entered_s(self, gate: str) -> float:
        """Time at which a gate was first entered."""
        return next(e.sim_s for e in self.entries if isinstance(e, GateEntered) and e.gate == gate)
