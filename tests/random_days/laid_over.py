"""Days of `tests/other_days` on which the crew is correct, laid over random sectors.

Takes: a seed.  Gives: a `DayResult` for each day.
"""

from __future__ import annotations

import time
from pathlib import Path

from mock_sim.run import Flight
from rules.packs.model import FindingKind, declared_id
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from tests import other_days
from tests.accidents.accident_case import Case, load_cases
from tests.accidents.branch_runner import judge
from tests.accidents.clean_flight import CleanRecording
from tests.random_days.judged_day import LINED_UP, DayResult, line_up_place
from tests.random_days.kinds import EVENTS_OF_THE_AEROPLANE, OF_ONE_RUNWAY
from tests.random_days.random_day import random_day
from tests.recorded_flights import RecordedMoment
from tests.shipped import shipped

RATE_HZ = 2.0
USUAL_VREF_KT = 132.0
"""VREF of the flight for which the days are written."""


def recorded(seed: int) -> CleanRecording:
    """A random sector, recorded without a network."""
    day = random_day("sector", seed)
    flight, steps, known, place = (
        Flight(day.scenario, seed=seed, rate_hz=RATE_HZ),
        list[RecordedMoment](),
        dict[str, Value](),
        dict[str, Value](),
    )
    for moment in flight:
        if not place and LINED_UP in flight.crew.step_times_s:
            place = line_up_place(moment.state)
        changes = {name: value for name, value in moment.state.items() if known.get(name) != value}
        known.update(changes)
        steps.append(RecordedMoment(moment.sim_s, changes, tuple(call.name for call in moment.calls)))
    trip = TripSheet(day.trip.title, {**day.trip.values, **place})
    return CleanRecording("sector", shipped("twin_jet")[0], trip, tuple(known), tuple(steps))


def lay_over(seed: int) -> list[DayResult]:
    """Judge the days over the sector of a seed."""
    began_s = time.process_time()
    recording = recorded(seed)
    later_kt = float(str(recording.trip.values["trip.vref"])) - USUAL_VREF_KT
    days = [_at_speed(day, later_kt) for day in correct_days()]
    outcomes = judge(recording, days).outcomes
    took_s = (time.process_time() - began_s) / len(days)
    found = list[DayResult]()
    for day in days:
        outcome, allowed = outcomes[day.id], {declared_id(item) for item in day.finds}
        result = DayResult("laid over: " + day.id.replace("_", " "), seed, took_s=took_s)
        errors = [
            f
            for f in outcome.findings
            if f.kind is not FindingKind.NOT_VERIFIABLE and declared_id(f.item) not in allowed
        ]
        result.false += [f"{f.sim_s:.0f} s {f.item} {f.kind}: {f.sentence}" for f in errors]
        notices = [n for n in outcome.notices if declared_id(n.item) not in allowed]
        result.false += [f"{n.sim_s:.0f} s notice {n.item} ({n.level}): {n.sentence}" for n in notices]
        result.findings, result.notices = len(errors), len(notices)
        result.flown_s = outcome.clean_entry_s
        result.frames = sum(step.sim_s <= result.flown_s for step in recording.steps)
        found.append(result)
    return found


def correct_days() -> list[Case]:
    """The days on which nothing is found but what the aeroplane itself has."""
    folder = Path(other_days.__file__).parent
    days = [day for name in ("days.yaml", "air.yaml") for day in load_cases(name, folder)]
    return [
        day
        for day in days
        if day.id in EVENTS_OF_THE_AEROPLANE or (not day.finds and day.id not in OF_ONE_RUNWAY)
    ]


def _at_speed(day: Case, later_kt: float) -> Case:
    """The day with its VREF for another mass."""
    layers = [
        layer.model_copy(
            update={"put": {**layer.put, "speeds.vref": float(layer.put["speeds.vref"]) + later_kt}}
        )
        if "speeds.vref" in layer.put
        else layer
        for layer in day.layers
    ]
    changes = [
        change.model_copy(
            update={"values": {**change.values, "vref": float(change.values["vref"]) + later_kt}}
        )
        if "vref" in change.values
        else change
        for change in day.trip_changes
    ]
    return day.model_copy(update={"layers": layers, "trip_changes": changes})
