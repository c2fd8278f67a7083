"""The same inputs through the live judge and through the batch judge.

Takes: a pack, trip values, inputs in their order.  Gives: `live_events` and `batch_events`, as bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import msgspec

from rules.faults import InputFaults
from rules.judge.batch import BatchJudge
from rules.judge.events import JudgeEvent
from rules.judge.judge import Judge, TripValues
from rules.packs.model import Pack
from rules.signals.input_log import InputLog
from rules.signals.model import Frame, Value


@dataclass(frozen=True)
class TickInput:
    """Time that passes without frames."""

    recv_s: float


@dataclass(frozen=True)
class RequestInput:
    """A request; a refused one changes nothing."""

    verb: Literal["call", "undo_call", "confirm", "waive", "undo_waiver", "amend"]
    name: str = ""
    values: tuple[tuple[str, Value], ...] = ()

    def trip_values(self, pack: Pack) -> Mapping[str, Value]:
        """Values of a trip sheet update."""
        known = all(name in pack.signals for name, _ in self.values)
        return dict(self.values) if self.verb == "amend" and known else {}

    def apply(self, judge: Judge) -> list[JudgeEvent]:
        """Make the request."""
        try:
            match self.verb:
                case "amend":
                    return judge.update_trip(dict(self.values))
                case "waive":
                    return judge.waive(self.name, "instructor", "not today")
                case "undo_waiver":
                    return judge.undo_waiver(self.name, "instructor")
                case "call":
                    return judge.enter_call(self.name, "pilot")
                case "undo_call":
                    return judge.undo_call(self.name, "pilot")
                case "confirm":
                    return judge.confirm(self.name)
        except InputFaults:
            return []


JudgeInput: TypeAlias = Frame | TickInput | RequestInput


def live_events(
    pack: Pack, trip: TripValues, inputs: Iterable[JudgeInput], *, calls_entered: bool = False
) -> list[bytes]:
    """Events of the live judge, input by input."""
    judge, events = Judge(pack, trip, calls_entered=calls_entered), list[JudgeEvent]()
    for each in inputs:
        match each:
            case Frame():
                events += judge.judge_frame(each)
            case TickInput():
                events += judge.tick(each.recv_s)
            case RequestInput():
                events += each.apply(judge)
    return [_bytes(entry) for entry in events]


def input_log_of(inputs: Iterable[JudgeInput]) -> InputLog:
    """Input log of these inputs."""
    input_log = InputLog()
    for each in inputs:
        match each:
            case Frame():
                input_log.append_frame(each)
            case TickInput():
                input_log.append_stale_check(each.recv_s)
            case RequestInput():
                input_log.append_request(each)
    return input_log


def batch_events(
    pack: Pack, trip: TripValues, inputs: Sequence[JudgeInput], *, calls_entered: bool = False
) -> list[bytes]:
    """Events of the batch judge."""
    batch = BatchJudge(pack, trip, input_log_of(inputs), calls_entered=calls_entered)
    return [_bytes(entry) for entries in batch.run() for entry in entries]


def _bytes(entry: JudgeEvent) -> bytes:
    return type(entry).__name__.encode() + msgspec.json.encode(entry)
