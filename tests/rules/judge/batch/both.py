"""The same inputs through the live core and through columns.

Takes: a pack, papers, inputs in their order.  Gives: `told_live` and `told_at_once`, as bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import msgspec

from rules.faults import InputFaults
from rules.judge.batch import Batch
from rules.judge.core import Core, Papers
from rules.judge.entries import Entry
from rules.packs.model import Pack
from rules.signals.model import Frame, Value
from rules.signals.tape import Tape


@dataclass(frozen=True)
class Tick:
    """Time passes without news."""

    recv_s: float


@dataclass(frozen=True)
class Ask:
    """Somebody asks something; what is refused changes nothing."""

    verb: Literal["call", "retract", "confirm", "excuse", "amend"]
    name: str = ""
    values: tuple[tuple[str, Value], ...] = ()

    def papers(self, pack: Pack) -> Mapping[str, Value]:
        """What an amended sheet says."""
        known = all(name in pack.signals for name, _ in self.values)
        return dict(self.values) if self.verb == "amend" and known else {}

    def ask(self, core: Core) -> list[Entry]:
        """Ask it."""
        try:
            match self.verb:
                case "amend":
                    return core.amend(dict(self.values))
                case "excuse":
                    return core.excuse(self.name, "instructor", "not today")
                case "call":
                    return core.call(self.name, "pilot")
                case "retract":
                    return core.retract(self.name, "pilot")
                case "confirm":
                    return core.confirm(self.name)
        except InputFaults:
            return []


Went: TypeAlias = Frame | Tick | Ask


def told_live(pack: Pack, trip: Papers, inputs: Iterable[Went], *, calls_heard: bool = False) -> list[bytes]:
    """What the live core says, input by input."""
    core, told = Core(pack, trip, calls_heard=calls_heard), list[Entry]()
    for each in inputs:
        match each:
            case Frame():
                told += core.frame(each)
            case Tick():
                told += core.tick(each.recv_s)
            case Ask():
                told += each.ask(core)
    return [_bytes(entry) for entry in told]


def taped(inputs: Iterable[Went]) -> Tape:
    """The inputs as a tape."""
    tape = Tape()
    for each in inputs:
        match each:
            case Frame():
                tape.frame(each)
            case Tick():
                tape.tick(each.recv_s)
            case Ask():
                tape.request(each)
    return tape


def told_at_once(
    pack: Pack, trip: Papers, inputs: Sequence[Went], *, calls_heard: bool = False
) -> list[bytes]:
    """What is said of all of it at once."""
    batch = Batch(pack, trip, taped(inputs), calls_heard=calls_heard)
    return [_bytes(entry) for entries in batch.judge() for entry in entries]


def _bytes(entry: Entry) -> bytes:
    return type(entry).__name__.encode() + msgspec.json.encode(entry)
