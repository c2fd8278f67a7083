"""Small packs made by hand, and a flight that sends frames to a core and keeps what it says.

Takes: conditions as checked trees.  Gives: `Rules` (a pack to be), `Flight` (a core and its entries).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from rules.judge.core import Core
from rules.judge.entries import Entry, Finding, FindingChanged, FindingOpened, Notice, PhaseEntered
from rules.language import checked as c
from rules.packs.model import (
    Call,
    Checklist,
    Flow,
    Gate,
    Item,
    Level,
    Line,
    Pack,
    Phase,
    Quiet,
    Watch,
)
from rules.signals.model import Frame, Kind, Quality, Sample, Signal, Value

Said = TypeVar("Said", bound=object)


def switch(name: str) -> Signal:
    """A signal that is off or on."""
    return Signal(name, Kind.SWITCH, 33, name.replace(".", " "), "a switch", words=("off", "on"))


def number(name: str, unit: str = "kt", *, max_age_s: float = 3.0) -> Signal:
    """A signal with a number."""
    label = name.replace(".", " ")
    return Signal(name, Kind.QUANTITY, 34, label, "a number", unit, -1e6, 1e6, max_age_s=max_age_s)


BEACON, PUMP, PROBE, LIGHT = (switch(name) for name in ("beacon", "pump", "probe", "light"))
MODE = Signal("mode", Kind.CHOICE, 34, "mode", "a choice", words=("off", "standby", "on"))
SPEED, HEADING, HEIGHT = number("speed"), number("heading", "deg"), number("height", "ft")
SHEET = number("trip.heading", "deg", max_age_s=0.0)
SIGNALS = {s.name: s for s in (BEACON, PUMP, PROBE, LIGHT, MODE, SPEED, HEADING, HEIGHT, SHEET)}
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
    return c.Relation(c.Read(signal, unit=signal.unit), ">", c.Const(value, signal.unit))


def same(signal: Signal, other: Signal) -> c.Condition:
    """The two numbers are equal."""
    return c.Relation(c.Read(signal, unit=signal.unit), "=", c.Read(other, unit=other.unit))


def called(name: str) -> c.Condition:
    """The call was made."""
    return c.Occurred(c.CallMade(name, name.replace("_", " ")))


def item(
    name: str, condition: c.Condition | None, *, level: Level = Level.CAUTION, confirm: str = ""
) -> Item:
    """An item of the flow `before`, owned by the captain."""
    return Item(
        f"flow.before.{name}", name.capitalize(), "captain", level, condition, confirm, why=f"why {name}"
    )


def push(needs: Sequence[str]) -> Gate:
    """From the stand to the push back: cued by a call, entered by moving."""
    return Gate("push", "Push back", "pushing", ("stand",), called("ready"), above(SPEED, 1), tuple(needs))


def go(needs: Sequence[str]) -> Gate:
    """From the push back to the roll: cued by a call, entered by speed."""
    return Gate(
        "go", "Take-off", "rolling", ("stand", "pushing"), called("cleared"), above(SPEED, 30), tuple(needs)
    )


PHASES = (
    Phase("stand", "At the stand", "STD"),
    Phase("pushing", "Push back", "PBT"),
    Phase("rolling", "Take-off", "TOF"),
)


@dataclass
class Rules:
    """A pack to be; by default every item is needed for the push back."""

    items: list[Item]
    gates: list[Gate] | None = None
    watches: list[Watch] = field(default_factory=list)
    quiets: list[Quiet] = field(default_factory=list)
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
class Sheet:
    """A trip sheet's values."""

    values: Mapping[str, Value] = field(default_factory=dict)


class Flight:
    """A core, fed by frames that carry every signal of `values`; the clocks run together unless told otherwise."""

    def __init__(
        self,
        rules: Rules,
        *,
        start: Mapping[str, Value] | None = None,
        sheet: Mapping[str, Value] | None = None,
        calls_heard: bool = True,
    ) -> None:
        """Everything at rest, the first frame not yet sent."""
        self.core = Core(rules.pack(), Sheet(sheet or {}), calls_heard=calls_heard)
        self.values: dict[str, Value] = dict(AT_REST if start is None else start)
        self.entries: list[Entry] = []
        self.epoch = 0
        self._sent: dict[str, Value] = {}

    def at(self, sim_s: float, calls: Sequence[str] = (), **values: Value) -> list[Entry]:
        """Send one frame in which these signals change, after one for every whole second since the last.

        Returns:
            What the core says to this frame; what it said to those before is in `entries`.
        """
        last_s = self.core.session.sim_s if self._sent else sim_s
        for second in range(math.floor(last_s) + 1, math.ceil(sim_s)):
            self._send(float(second), (), float(second))
        self.values.update(values)
        return self._send(sim_s, calls, sim_s)

    def gap(self, sim_s: float, recv_s: float) -> list[Entry]:
        """Send one frame after a silence: the simulator's clock at `sim_s`, the monotonic one at `recv_s`."""
        return self._send(sim_s, (), recv_s)

    def _send(self, sim_s: float, calls: Sequence[str], recv_s: float) -> list[Entry]:
        """Send one frame."""
        new = [(n, v) for n, v in self.values.items() if n not in self._sent or self._sent[n] != v]
        changes = [Sample(n, v, Quality.FRESH, sim_s) for n, v in new]
        self._sent.update(self.values)
        frame = Frame("test", sim_s, recv_s, self.epoch, tuple(self.values), changes, tuple(calls))
        return self._keep(self.core.frame(frame))

    def until(self, first_s: int, last_s: int) -> list[Entry]:
        """Send a frame every second, changing nothing."""
        return [entry for sim_s in range(first_s, last_s + 1) for entry in self.at(float(sim_s))]

    def call(self, name: str) -> list[Entry]:
        """Enter a call."""
        return self._keep(self.core.call(name, "captain"))

    def jump(self, sim_s: float, **values: Value) -> list[Entry]:
        """The simulator's clock jumps back."""
        self.epoch += 1
        self._sent.clear()
        self.values.update(values)
        return self._send(sim_s, (), self.core.session.state.recv_s)

    def _keep(self, entries: list[Entry]) -> list[Entry]:
        """Keep what was said."""
        self.entries += entries
        return entries

    @property
    def phases(self) -> list[str]:
        """The phases entered so far."""
        return [entry.phase for entry in self.entries if isinstance(entry, PhaseEntered)]

    @property
    def kinds(self) -> list[str]:
        """The findings as they stand: `kind item`, the item without its flow."""
        return [f"{f.kind} {f.item.rpartition('.')[2]}" for f in self.core.findings]


def only(entries: Sequence[Entry], kind: type[Said]) -> list[Said]:
    """The entries of one kind."""
    return [entry for entry in entries if isinstance(entry, kind)]


def told(entries: Sequence[Entry]) -> list[str]:
    """The sentences of the notices."""
    return [notice.sentence for notice in only(entries, Notice)]


def opened(entries: Sequence[Entry]) -> list[Finding]:
    """The findings that opened."""
    return [entry.finding for entry in only(entries, FindingOpened)]


def changed(entries: Sequence[Entry]) -> list[Finding]:
    """The findings that changed."""
    return [entry.finding for entry in only(entries, FindingChanged)]


def line(challenge: str, answer: str, item_id: str) -> Line:
    """One line of a checklist."""
    return Line(challenge, answer, item_id)


__all__ = ["Flight", "Rules", "replace"]
