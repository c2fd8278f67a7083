"""The events of the mock's sector, flown with noise and judged with a trip sheet that the crew changes in time.

Long flights share what they have in common: the aeroplane goes on from where the clean flight was before the event.

Takes: `events.yaml`.  Gives: `ExpectedOutcome` of each event, records of the flights, and how they are judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import BaseModel, ConfigDict, TypeAdapter

from mock_sim.run import Flight, FlightCheckpoint
from rules.judge.judge import Judge
from rules.packs.trip_sheet import parse_trip_sheet
from rules.signals.model import Value
from rules.source import parse_source, read_source
from tests.packs_flight.recorded_sector import JudgedFlight, Moment
from tests.shipped import shipped

RATE_HZ = 1.0
BEFORE = {
    "go_around": "captain.final_speed",
    "second_sector": "first_officer.landing",
}
"""The step of the clean flight before which an event's flight begins to go its own way; the others fly from the stand."""


class Form(BaseModel):
    """Form without unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class TripChangeForm(Form):
    """Update of the trip sheet, and its time."""

    step: str = ""
    call: str = ""
    values: dict[str, Any]


class Slip(Form):
    """An error after the event: wrong values or missing calls from a phase on, and the expected findings."""

    description: str
    since: str
    signals: dict[str, Value] = {}
    sheet: dict[str, Any] = {}
    calls_left_out: tuple[str, ...] = ()
    trip_unchanged: bool = False
    found: tuple[str, ...]


class ExpectedOutcome(Form):
    """Expected phases and findings of an event."""

    phases: tuple[str, ...]
    found: dict[str, str]
    joins: str = ""
    trip_change: TripChangeForm | None = None
    slips: tuple[Slip, ...] = ()


class Record(NamedTuple):
    """An event's flight: its moments, and the times of trip sheet updates."""

    moments: list[Moment]
    trip_changed_s: float | None


class SharedStart(NamedTuple):
    """The clean flight: its moments, the time of each step, and states from which a flight can continue."""

    moments: list[Moment]
    step_times_s: dict[str, float]
    checkpoints: list[FlightCheckpoint]


@cache
def events() -> dict[str, ExpectedOutcome]:
    """Expected outcome of each event."""
    return TypeAdapter(dict[str, ExpectedOutcome]).validate_python(
        read_source(Path(__file__).with_name("events.yaml")).data
    )


@cache
def clean(seed: int) -> SharedStart:
    """The flight without an event, recorded once a second, with a state to continue from every minute."""
    flight = Flight("sector", seed=seed, rate_hz=RATE_HZ)
    moments, checkpoints = [], []
    for moment in _moments(flight):
        moments.append(moment)
        if moment.sim_s % 60.0 == 0.0:
            checkpoints.append(flight.checkpoint())
    return SharedStart(moments, flight.crew.step_times_s, checkpoints)


@cache
def record(event: str, seed: int) -> Record:
    """The flight with an event."""
    change = events()[event].trip_change
    flight, moments, step_s = Flight("sector", seed=seed, events=[event], rate_hz=RATE_HZ), [], None
    if event in BEFORE:
        common = clean(seed)
        before_s = common.step_times_s[BEFORE[event]] - 5.0
        checkpoint = [checkpoint for checkpoint in common.checkpoints if checkpoint.sim_s < before_s][-1]
        flight.resume_from(checkpoint)
        moments = [m for m in common.moments if m.sim_s < checkpoint.sim_s]
    for moment in _moments(flight):
        moments.append(moment)
        if change and step_s is None and change.step in flight.crew.step_times_s:
            step_s = moment.sim_s
    if change and change.call:
        step_s = max(m.sim_s for m in moments if change.call in m.calls)
    return Record(moments, step_s)


def _moments(flight: Flight) -> Iterator[Moment]:
    for m in flight:
        state = {k: v if isinstance(v, str) else float(v) for k, v in m.state.items()}
        yield Moment(m.sim_s, state, tuple(call.name for call in m.calls))


def trip_values(values: Mapping[str, Any]) -> Mapping[str, Value]:
    """Values of an updated sheet, in the book's units."""
    words = ", ".join(f'"{name}": "{value}"' for name, value in values.items())
    return parse_trip_sheet(
        parse_source(f'trip: {{"title": "changed", "values": {{{words}}}}}', "changed")
    ).values


def judge(event: str, seed: int, slip: Slip | None = None, *, first_s: float = 0.0) -> JudgedFlight:
    """Judge an event's flight with an error overlaid; before `first_s` only its calls are entered."""
    expected, flown = events()[event], record(event, seed)
    judged, since = JudgedFlight(Judge(*shipped("twin_jet"))), False
    values = (expected.trip_change.values if expected.trip_change else {}) | (slip.sheet if slip else {})
    for moment in flown.moments:
        since = since or (slip is not None and slip.since in judged.phases[-1:])
        calls = [c for c in moment.calls if not (since and slip and c in slip.calls_left_out)]
        if moment.sim_s < first_s:
            for call in calls:
                judged.judge.enter_call(call)
            continue
        judged.send(moment.sim_s, {**moment.state, **(slip.signals if since and slip else {})}, calls)
        if moment.sim_s == flown.trip_changed_s and not (slip and slip.trip_unchanged):
            judged.entries += judged.judge.update_trip(trip_values(values))
    return judged
