"""A sample of the random days, and what makes them: `python -m tests.random_days` flies all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from random import Random

import pytest

from mock_sim.run import Flight
from rules.judge.judge import batch_judge
from tests.random_days.judged_day import DayResult, count_events, fly_day, record_day
from tests.random_days.kinds import NORMAL, OTHERWISE
from tests.random_days.random_day import random_day
from tests.random_days.step_order import FIRST, is_free, reordered
from tests.shipped import shipped

SAMPLE = [("departure", 1), ("departure", 2), ("circuit", 3), ("circuit", 9), ("rejected take-off", 1)]
"""Kinds and seeds; in the circuits of 3 and 9 a light aeroplane is soon at the height of the circuit."""
LAST = {"departure": {"takeoff"}, "circuit": {"dark", "secured"}, "rejected take-off": {"return_to_stand"}}
"""Last gates; where records are lost, that the last checklist was read may not be verifiable."""


@pytest.fixture(scope="module")
def flown() -> Iterator[Mapping[tuple[str, int], DayResult]]:
    """The sample, in parallel on the available cores."""
    with ProcessPoolExecutor() as pool:
        jobs = {job: pool.submit(fly_day, *job) for job in SAMPLE}
        yield {job: done.result() for job, done in jobs.items()}


@pytest.mark.parametrize(("kind", "seed"), SAMPLE)
def test_nothing_is_found_on_a_random_day(
    flown: Mapping[tuple[str, int], DayResult], kind: str, seed: int
) -> None:
    """A correct crew hears nothing, to the last gate, and most needs could be judged."""
    result = flown[kind, seed]
    assert result.false == []
    assert result.last_gate in LAST[kind]
    assert result.judged >= 0.9 * result.needs > 0


def test_a_slip_on_a_random_day_is_found() -> None:
    """The same setup with a slip gives the finding of the slip: the day hides nothing."""
    day = random_day("departure", 3)
    flight = Flight(day.scenario, ["transponder_forgotten"], 3, rate_hz=day.rate_hz)
    log, place = record_day(day, flight)
    sheet = type(day.trip)(day.trip.title, {**day.trip.values, **place})
    result = DayResult("departure", 3)
    events = [event for step in batch_judge(shipped("twin_jet")[0], sheet, log).run() for event in step]
    count_events(result, events, ())
    found = {sentence.split()[2] for sentence in result.false if " notice " not in sentence}
    assert found == {"flow.before_takeoff.transponder"}


def test_days_differ_and_can_be_repeated() -> None:
    """Two seeds give two days, and one seed the same day again."""
    days = [random_day("sector", seed) for seed in (1, 2, 1)]
    assert days[0] == days[2]
    differs = {name for name, value in days[0].trip.values.items() if days[1].trip.values[name] != value}
    assert {"trip.takeoff_mass", "trip.qnh", "trip.wind_direction", "trip.outside_air_temperature"} <= differs
    assert {"trip.vr", "trip.vref", "trip.runway_heading", "trip.landing_qnh"} <= differs


@pytest.mark.parametrize("name", ["departure", "sector", "circuit"])
def test_another_order_keeps_what_must_come_first(name: str) -> None:
    """Every step is still there; only runs of free steps are shuffled, and no pair of `FIRST` is turned round."""
    scenario = Flight(name).scenario
    moved = 0
    for seed in range(20):
        shuffled = reordered(scenario, Random(seed))
        for seat, steps in scenario.seats.items():
            now = shuffled.seats[seat]
            assert sorted(step.key for step in now) == sorted(step.key for step in steps)
            assert [s.key for s in now if not is_free(s)] == [s.key for s in steps if not is_free(s)]
            keys = [step.key for step in now]
            assert all(keys.index(a) < keys.index(b) for a, b in FIRST if a in keys and b in keys)
            moved += keys != [step.key for step in steps]
    assert moved


def test_every_event_of_the_scenarios_has_its_kind() -> None:
    """Each event of departure and sector is flown on random days, but for the second sector, a whole flight after another."""
    flown = {kind.event for kind in OTHERWISE.values()}
    assert {event.id for event in Flight("sector").scenario.events} - flown == {"second_sector"}
    assert sum(kind.count for kind in NORMAL.values()) >= 1000
