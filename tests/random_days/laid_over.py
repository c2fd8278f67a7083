"""Days of `tests/other_days` on which the crew is correct, laid over random flights.

Takes: a seed.  Gives: a `DayResult` for each day.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path

from mock_sim.run import Flight
from rules.packs.model import FindingKind, declared_id
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import TRIP_PREFIX, Value
from tests import other_days
from tests.accidents.accident_case import Case, load_cases
from tests.accidents.branch_runner import Outcome, judge
from tests.accidents.clean_flight import PACKS, CleanRecording
from tests.random_days.judged_day import LINED_UP, DayResult, line_up_place
from tests.random_days.kinds import NOT_LAID_OVER, TOLD_ALL_THE_SAME
from tests.random_days.random_day import random_day
from tests.recorded_flights import RecordedMoment
from tests.shipped import shipped

RATE_HZ = 2.0
FOLDER = Path(other_days.__file__).parent


def recorded(scenario: str, seed: int) -> CleanRecording:
    """A random flight, recorded without a network."""
    day = random_day(scenario, seed)
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
    return CleanRecording(scenario, shipped(PACKS[scenario])[0], trip, tuple(known), tuple(steps))


def lay_over(seed: int) -> list[DayResult]:
    """Judge the days over the flights of a seed."""
    return [result for scenario in PACKS for result in _lay_over_flight(scenario, seed)]


def _lay_over_flight(scenario: str, seed: int) -> list[DayResult]:
    """Judge the days over a flight of their scenario; those that do not fit its sheet are left out."""
    of_scenario = [day for day in correct_days() if day.flight == scenario]
    if not of_scenario:
        return []
    began_s = _processor_s()
    recording = recorded(scenario, seed)
    days = [day for day in of_scenario if fits(day, recording.trip.values)]
    outcomes = judge(recording, days).outcomes
    took_s = (_processor_s() - began_s) / max(1, len(days))
    return [_result(day, seed, outcomes[day.id], recording, took_s) for day in days]


def _result(day: Case, seed: int, outcome: Outcome, recording: CleanRecording, took_s: float) -> DayResult:
    """What is found beside the findings of the day, and which of these are not found."""
    expected = {declared_id(item) for item in day.finds}
    result = DayResult("laid over: " + day.id.replace("_", " "), seed, took_s=took_s)
    sure = [finding for finding in outcome.findings if finding.kind is not FindingKind.NOT_VERIFIABLE]
    errors = [finding for finding in sure if declared_id(finding.item) not in expected]
    notices = [notice for notice in outcome.notices if declared_id(notice.item) not in expected]
    missed = set(day.finds) - {finding.item for finding in sure}
    result.false += [f"{f.sim_s:.0f} s {f.item} {f.kind}: {f.sentence}" for f in errors]
    result.false += [f"{n.sim_s:.0f} s notice {n.item} ({n.level}): {n.sentence}" for n in notices]
    result.false += [f"{item} is not found" for item in sorted(missed)]
    result.findings, result.notices = len(errors) + len(missed), len(notices)
    result.flown_s = outcome.clean_entry_s
    result.frames = sum(step.sim_s <= result.flown_s for step in recording.steps)
    return result


def fits(day: Case, sheet: Mapping[str, Value]) -> bool:
    """True if the day makes sense with a sheet."""
    return all(low <= float(sheet[TRIP_PREFIX + name]) <= high for name, (low, high) in day.fits.items())


@cache
def correct_days() -> Sequence[Case]:
    """The days on which nothing is found but what the aeroplane itself has, in the order of the files."""
    return [day for day in silent_days() if day.id not in NOT_LAID_OVER]


@cache
def silent_days() -> Sequence[Case]:
    """Days of all files on which the crew makes no error."""
    days = [day for file in sorted(FOLDER.glob("*.yaml")) for day in load_cases(file.name, FOLDER)]
    return [day for day in days if is_silent(day.finds.values()) or day.id in TOLD_ALL_THE_SAME]


def is_silent(found: Iterable[FindingKind]) -> bool:
    """True if all findings are the aeroplane's own events."""
    return all(kind is FindingKind.AEROPLANE_EVENT for kind in found)


def _processor_s() -> float:
    """CPU time of this process and of the branches that have ended, which are child processes, in seconds."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system
