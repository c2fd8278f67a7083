"""Small packs, and a flight that sends frames to a judge and records its events.

Takes: conditions as checked trees.  Gives: `PackBuilder`, `ScriptedFlight`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from rules.judge.events import Finding, FindingChanged, FindingOpened, JudgeEvent, Notice, PhaseEntered
from rules.judge.judge import Judge
from rules.judge.signal_text import placeholders_in
from rules.language import checked_tree as c
from rules.language.truth import Truth
from rules.packs.model import (
    Call,
    Checklist,
    ChecklistLine,
    Flow,
    Gate,
    Item,
    Level,
    Pack,
    Phase,
    QuietPeriod,
    Watch,
)
from rules.signals.model import Frame, Quality, Sample, Signal, SignalKind, Value

EventT = TypeVar("EventT", bound=object)


def switch(name: str) -> Signal:
    """A signal that is off or on."""
    return Signal(name, SignalKind.SWITCH, 33, name.replace(".", " "), "a switch", words=("off", "on"))


def number(name: str, unit: str = "kt", *, max_age_s: float = 3.0) -> Signal:
    """A signal with a number."""
    label = name.replace(".", " ")
    return Signal(name, SignalKind.QUANTITY, 34, label, "a number", unit, -1e6, 1e6, max_age_s=max_age_s)


BEACON, PUMP, PROBE, LIGHT = (switch(name) for name in ("beacon", "pump", "probe", "light"))
MODE = Signal("mode", SignalKind.CHOICE, 34, "mode", "a choice", words=("off", "standby", "on"))
SPEED, HEADING, HEIGHT = number("speed"), number("heading", "deg"), number("height", "ft")
TRIP_HEADING = number("trip.heading", "deg", max_age_s=0.0)
SIGNALS = {s.name: s for s in (BEACON, PUMP, PROBE, LIGHT, MODE, SPEED, HEADING, HEIGHT, TRIP_HEADING)}
AT_REST: dict[str, Value] = {
    "beacon": "off",
    "pump": "off",
    "probe": "off",
    "light": "off",
    "mode": "off",
    "speed": 0.0,
    "heading": 0.0,
    "height": 0.0,
}


def on(signal: Signal) -> c.Condition:
    """The switch is on."""
    return c.WordIs(signal, ("on",))


def above(signal: Signal, value: float) -> c.Condition:
    """The number is greater."""
    return c.Relation(c.SignalValue(signal, unit=signal.unit), ">", c.Constant(value, signal.unit))


def same(signal: Signal, other: Signal) -> c.Condition:
    """The two numbers are equal."""
    return c.Relation(c.SignalValue(signal, unit=signal.unit), "=", c.SignalValue(other, unit=other.unit))


def called(name: str) -> c.Condition:
    """The call was entered."""
    return c.Once(c.CallEvent(name, name.replace("_", " ")))


def item(
    name: str, condition: c.Condition | None, *, level: Level = Level.CAUTION, confirm: str = ""
) -> Item:
    """An item of the flow `before`, owned by the captain."""
    return Item(
        f"flow.before.{name}", name.capitalize(), "captain", level, condition, confirm, why=f"why {name}"
    )


def push(needs: Sequence[str]) -> Gate:
    """Gate from the stand to the push back: cued by a call, entered by moving."""
    return Gate("push", "Push back", "pushing", ("stand",), called("ready"), above(SPEED, 1), tuple(needs))


def go(needs: Sequence[str]) -> Gate:
    """Gate from the push back to the roll: cued by a call, entered by speed."""
    return Gate(
        "go", "Take-off", "rolling", ("stand", "pushing"), called("cleared"), above(SPEED, 30), tuple(needs)
    )


PHASES = (
    Phase("stand", "At the stand", "STD"),
    Phase("pushing", "Push back", "PBT"),
    Phase("rolling", "Take-off", "TOF"),
)


@dataclass
class PackBuilder:
    """Builds a pack; by default every item is needed for the push back."""

    items: list[Item]
    gates: list[Gate] | None = None
    watches: list[Watch] = field(default_factory=list)
    quiets: list[QuietPeriod] = field(default_factory=list)
    checklists: list[Checklist] = field(default_factory=list)

    def pack(self) -> Pack:
        """The pack."""
        names = tuple(item.id for item in self.items)
        return Pack(
            "hand",
            "Made by hand",
            "1",
            "For simulation only.",
            ("hand",),
            {"captain": "Captain", "first_officer": "First officer"},
            SIGNALS,
            {n: Call(n, n.replace("_", " "), "ground") for n in ("ready", "cleared", "ground_clear", "stop")},
            PHASES,
            {item.id: item for item in self.items},
            {"before": Flow("before", "Before", "stand", {"captain": names})},
            {checklist.id: checklist for checklist in self.checklists},
            tuple(self.gates if self.gates is not None else [push(names)]),
            tuple(self.watches),
            tuple(self.quiets),
        )


@dataclass(frozen=True)
class FixedTripValues:
    """Values of a trip sheet, and whose calls are entered."""

    values: Mapping[str, Value] = field(default_factory=dict)
    calls: tuple[str, ...] | None = ("all",)


class ScriptedFlight:
    """A judge, fed by frames that carry every signal of `values`; both clocks run together unless given."""

    def __init__(
        self,
        rules: PackBuilder,
        *,
        start: Mapping[str, Value] | None = None,
        sheet: Mapping[str, Value] | None = None,
        calls_entered: bool = True,
    ) -> None:
        """Start at rest, before the first frame."""
        self.judge = Judge(rules.pack(), FixedTripValues(sheet or {}), calls_entered=calls_entered)
        self.values: dict[str, Value] = dict(AT_REST if start is None else start)
        self.events: list[JudgeEvent] = []
        self.epoch = 0
        self._sent_values: dict[str, Value] = {}

    def send_frame(self, sim_s: float, calls: Sequence[str] = (), **values: Value) -> list[JudgeEvent]:
        """Send one frame in which these signals change, after one for every whole second since the last.

        Returns:
            The events of this frame; those of the frames before it are in `entries`.
        """
        last_s = self.judge.sim_s if self._sent_values else sim_s
        for second in range(math.floor(last_s) + 1, math.ceil(sim_s)):
            self._send(float(second), (), float(second))
        self.values.update(values)
        return self._send(sim_s, calls, sim_s)

    def send_after_silence(self, sim_s: float, recv_s: float) -> list[JudgeEvent]:
        """Send one frame after a gap: the simulator clock at `sim_s`, the monotonic one at `recv_s`."""
        return self._send(sim_s, (), recv_s)

    def send_after_gap(
        self, sim_s: float, calls: Sequence[str] = (), *, missing_from_s: float, **values: Value
    ) -> list[JudgeEvent]:
        """Send one frame; the data before it are missing from a time on."""
        self.values.update(values)
        return self._send(sim_s, calls, sim_s, missing_from_s)

    def _send(
        self, sim_s: float, calls: Sequence[str], recv_s: float, missing_from_s: float | None = None
    ) -> list[JudgeEvent]:
        """Send one frame."""
        new = [
            (n, v) for n, v in self.values.items() if n not in self._sent_values or self._sent_values[n] != v
        ]
        changes = [Sample(n, v, Quality.FRESH, sim_s) for n, v in new]
        self._sent_values.update(self.values)
        frame = Frame(
            "test", sim_s, recv_s, self.epoch, tuple(self.values), changes, tuple(calls), missing_from_s
        )
        return self._record(self.judge.judge_frame(frame))

    def send_frames(self, first_s: int, last_s: int) -> list[JudgeEvent]:
        """Send a frame every second without changes."""
        return [entry for sim_s in range(first_s, last_s + 1) for entry in self.send_frame(float(sim_s))]

    def call(self, name: str) -> list[JudgeEvent]:
        """Enter a call."""
        return self._record(self.judge.enter_call(name, "captain"))

    def reset_clock(self, sim_s: float, **values: Value) -> list[JudgeEvent]:
        """Let the simulator clock jump back."""
        self.epoch += 1
        self._sent_values.clear()
        self.values.update(values)
        return self._send(sim_s, (), self.judge.snapshot().recv_s)

    def _record(self, entries: list[JudgeEvent]) -> list[JudgeEvent]:
        """Record the events."""
        self.events += entries
        return entries

    def condition_truth(self, name: str) -> Truth:
        """Truth of a condition by the monitors, which no snapshot has."""
        return self.judge._stepper.context.monitors.truth(name)

    @property
    def phases(self) -> list[str]:
        """The phases entered so far."""
        return [entry.phase for entry in self.events if isinstance(entry, PhaseEntered)]

    @property
    def finding_kinds(self) -> list[str]:
        """Findings as `kind item`, the item without its flow."""
        return [f"{f.kind} {f.item.rpartition('.')[2]}" for f in self.judge.findings]


def events_of(entries: Sequence[JudgeEvent], kind: type[EventT]) -> list[EventT]:
    """Events of one kind."""
    return [entry for entry in entries if isinstance(entry, kind)]


def notice_sentences(entries: Sequence[JudgeEvent]) -> list[str]:
    """Sentences of the notices."""
    return [notice.sentence for notice in events_of(entries, Notice)]


def opened_findings(entries: Sequence[JudgeEvent]) -> list[Finding]:
    """Findings that opened."""
    return [entry.finding for entry in events_of(entries, FindingOpened)]


def changed_findings(entries: Sequence[JudgeEvent]) -> list[Finding]:
    """Findings that changed."""
    return [entry.finding for entry in events_of(entries, FindingChanged)]


def checklist_line(challenge: str, answer: str, *item_ids: str) -> ChecklistLine:
    """One line of a checklist, known by its challenge."""
    shown = {name: (name,) for name in placeholders_in(answer)}
    return ChecklistLine(f"checklist.list.{challenge}", challenge, answer, item_ids, shown)


__all__ = ["PackBuilder", "ScriptedFlight", "replace"]
