"""A day, flown and judged: over the day's network, by the column evaluator.

Takes: a day.  Gives: `DayResult`: what was found and told, and how much was judged.
"""

from __future__ import annotations

import time
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from adapters.factory import receiver_for
from adapters.receiver import Receiver
from mock_sim.run import Flight
from mock_sim.send.formats import encoder_for
from mock_sim.send.frames import FlightFrames
from mock_sim.send.network_faults import FaultInjector
from rules.judge.events import FindingOpened, GateEntered, JudgeEvent, Notice
from rules.judge.judge import batch_judge
from rules.packs.model import FindingKind, declared_id
from rules.packs.trip_sheet import TripSheet
from rules.signals.input_log import InputLog
from rules.signals.model import Value
from tests.false_alarms.simulated_flight import PACKS, WIRE
from tests.random_days.kinds import NORMAL, OTHERWISE
from tests.random_days.random_day import Day, random_day
from tests.random_days.sheet_changes import SheetChange, sheet_change
from tests.rules.judge.batch.compare_batch import RequestInput
from tests.shipped import shipped

LINED_UP = "captain.lined_up"


@dataclass
class DayResult:
    """Result of one flight.

    Attributes:
        flown_s: Simulated time.
        frames: Frames that were judged.
        doubts: Findings that something cannot be verified.
        findings: Findings that are not those of `allowed`.
        notices: Notices that are not those of `allowed`.
        false: Their sentences.
    """

    kind: str
    seed: int
    flown_s: float = 0.0
    frames: int = 0
    gates: int = 0
    needs: int = 0
    judged: int = 0
    doubts: int = 0
    findings: int = 0
    notices: int = 0
    false: list[str] = field(default_factory=list)
    last_gate: str = ""
    took_s: float = 0.0


def fly_day(name: str, seed: int) -> DayResult:
    """Fly and judge the day of a seed.

    Args:
        name: A kind of flight.
        seed: Gives the day.
    """
    began_s, kind = time.process_time(), {**NORMAL, **OTHERWISE}[name]
    day = random_day(kind.scenario, seed, turned=not kind.event)
    change = sheet_change(kind.event, day) if kind.event else None
    scenario = change.scenario if change else day.scenario
    flight = Flight(scenario, seed=seed, events=kind.events, rate_hz=day.rate_hz)
    log, place = record_day(day, flight, change, kind.without)
    trip = TripSheet(day.trip.title, {**day.trip.values, **({} if kind.event else place)})
    result = DayResult(name, seed, flown_s=log.sim_s[-1], frames=len(log.sim_s))
    found = list[JudgeEvent]()
    for step in batch_judge(shipped(PACKS[kind.scenario])[0], trip, log).run():
        found += step
    count_events(result, found, kind.allowed)
    result.took_s = time.process_time() - began_s
    return result


def record_day(
    day: Day, flight: Flight, change: SheetChange | None = None, without: tuple[str, ...] = ()
) -> tuple[InputLog, Mapping[str, Value]]:
    """Send the flight over the network; give what was received, and the place at which the aeroplane lined up.

    Args:
        day: The day.
        flight: Its flight.
        change: How the crew amends the sheet on the way; None for not at all.
        without: Beginnings of the names that are not sent.
    """
    pack = shipped("trainer" if flight.scenario.aeroplane == "halyard_12" else "twin_jet")[0]
    encoder, receiver = encoder_for(WIRE), receiver_for(pack.signals, format_name=WIRE, link="mock")
    injector, log, place = FaultInjector(day.network, day.seed), InputLog(), dict[str, Value]()
    waiting = change if change and change.values else None
    for frame in FlightFrames(flight.scenario, flight, rate_hz=day.rate_hz):
        if not place and LINED_UP in flight.crew.step_times_s:
            place |= line_up_place(frame.fields)
        if waiting and waiting.step in flight.crew.step_times_s:
            log.append_request(RequestInput("amend", values=tuple(waiting.values.items())))
            waiting = None
        sent = _without(frame.fields, without) if without else frame.fields
        for data in encoder.encode(frame.clock_s, frame.number, sent):
            injector.add(frame.due_s, data)
        _receive(injector.due(frame.due_s), receiver, log)
    _receive(injector.remaining(), receiver, log)
    return log, place


def line_up_place(state: Mapping[str, Value | None]) -> dict[str, Value]:
    """The place of the aeroplane as values of the sheet: where its take-off run begins."""
    return {f"trip.runway_{axis}": float(str(state[f"flight.{axis}"])) for axis in ("latitude", "longitude")}


def _receive(due: Iterable[tuple[float, bytes]], receiver: Receiver, log: InputLog) -> None:
    """Decode each datagram at the time of its arrival."""
    for recv_s, data in due:
        for received in receiver.receive(data, recv_s):
            log.append_frame(received)


def count_events(result: DayResult, events: Iterable[JudgeEvent], allowed: Collection[str]) -> None:
    """Count what was found and told."""
    excused = set[str]()
    for event in events:
        match event:
            case GateEntered():
                result.gates += 1
                result.needs += event.needs
                result.judged += event.judged
                result.last_gate = event.gate
            case FindingOpened(finding=finding) if finding.kind is FindingKind.NOT_VERIFIABLE:
                result.doubts += 1
                excused.add(finding.item)
            case FindingOpened(finding=finding) if declared_id(finding.item) not in allowed:
                result.findings += 1
                result.false.append(
                    f"{finding.sim_s:.0f} s {finding.item} {finding.kind}: {finding.sentence}"
                )
            case Notice() if event.item not in excused and declared_id(event.item) not in allowed:
                result.notices += 1
                result.false.append(
                    f"{event.sim_s:.0f} s notice {event.item} ({event.level}): {event.sentence}"
                )


def _without(fields: Mapping[str, Value | None], beginnings: tuple[str, ...]) -> dict[str, Value | None]:
    """The fields of a simulator that does not send these."""
    return {name: value for name, value in fields.items() if not name.startswith(beginnings)}
