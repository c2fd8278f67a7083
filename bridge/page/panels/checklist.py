"""The checklist that is being read, or the choice of one.

Takes: a rig.  Gives: what `checklist.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.glance import gates_soon
from bridge.page.panels.parts import seat_title
from bridge.reading import PASSED, Reading
from bridge.rig import Rig
from rules.judge.core import Core
from rules.judge.entries import Life
from rules.judge.picture import fill
from rules.packs.model import Checklist, Gate, Line

BOTH = "both seats"


@dataclass(frozen=True, slots=True)
class Choice:
    """A checklist that may be read; `gate` is the title of the gate that it comes before, '' for none."""

    id: str
    title: str
    read_by: str
    gate: str
    so: int
    of: int


@dataclass(frozen=True, slots=True)
class LineView:
    """One line; `standing` in words, `sentence` only where it is not so."""

    at: int
    challenge: str
    answer: str
    item: str
    seat: str
    standing: str
    so: bool
    sentence: str
    confirmable: bool
    no_data: bool
    why: str


@dataclass(frozen=True, slots=True)
class ReadingView:
    """The reading: lines that were read, the present one, those to come."""

    id: str
    title: str
    read_by: str
    complete: bool
    above: tuple[LineView, ...]
    present: LineView | None
    below: tuple[LineView, ...]
    still_open: tuple[LineView, ...]
    of: int


def checklist(rig: Rig) -> Mapping[str, object]:
    """The reading if there is one, and the checklists, those that are due first."""
    core, reading = rig.session.core, rig.session.reading
    due, other = _choices(core)
    return {"reading": _reading(core, reading) if reading else None, "due": due, "other": other}


def _choices(core: Core) -> tuple[list[Choice], list[Choice]]:
    """Those that come before the gates ahead, and the others."""
    pack = core.session.pack
    near = {gate.id for gate in gates_soon(core)}
    due: list[Choice] = []
    other: list[Choice] = []
    for one in pack.checklists.values():
        gate = gate_of(one, pack.gates)
        (due if gate is not None and gate.id in near else other).append(_choice(core, one, gate))
    return due, other


def gate_of(checklist: Checklist, gates: tuple[Gate, ...]) -> Gate | None:
    """The gate that a checklist comes before: the first that needs the most of its lines; None where none does."""
    items = {line.item for line in checklist.lines}
    shares = [len(items.intersection(gate.needs)) for gate in gates]
    most = max(shares, default=0)
    return gates[shares.index(most)] if most else None


def _choice(core: Core, one: Checklist, gate: Gate | None) -> Choice:
    so = sum(core.items.states[line.item].life in PASSED for line in one.lines)
    return Choice(one.id, one.title, _reader(core, one), gate.title if gate else "", so, len(one.lines))


def _reader(core: Core, one: Checklist) -> str:
    return BOTH if one.read_by == "both" else seat_title(core.session.pack.seats, one.read_by)


def _reading(core: Core, reading: Reading) -> ReadingView:
    one, at = reading.checklist, reading.at
    lines = [_line(core, number, line) for number, line in enumerate(one.lines)]
    still = set(map(id, reading.still_open()))
    return ReadingView(
        one.id,
        one.title,
        _reader(core, one),
        reading.complete,
        tuple(lines[:at]),
        lines[at] if at < len(lines) else None,
        tuple(lines[at + 1 :]),
        tuple(lines[number] for number, line in enumerate(one.lines) if id(line) in still),
        len(lines),
    )


def _line(core: Core, at: int, line: Line) -> LineView:
    state = core.items.states[line.item]
    so = state.life in PASSED
    return LineView(
        at,
        line.challenge,
        fill(line.answer, core.session.state),
        line.item,
        seat_title(core.session.pack.seats, state.item.seat),
        "so" if state.life is Life.MET else str(state.life),
        so,
        "" if so else core.items.reason(state).sentence,
        bool(state.item.confirm),
        state.life is Life.NO_DATA,
        state.item.why,
    )
