"""A sample of the random days, and what makes them: `python -m tests.random_days` flies all."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import nullcontext
from pathlib import Path
from random import Random

import pytest

from mock_sim.run import Flight
from rules.faults import InputFaults
from rules.judge.judge import batch_judge
from rules.packs.load_pack import SHIPPED_DIR
from tests.accidents.accident_case import load_cases
from tests.accidents.clean_flight import PACKS
from tests.random_days.__main__ import fly
from tests.random_days.judged_day import DayResult, count_events, record_day
from tests.random_days.kinds import LAID_OVER, NORMAL, NOT_LAID_OVER, OTHERWISE, TOLD_ALL_THE_SAME
from tests.random_days.laid_over import FOLDER, correct_days, fits, is_silent
from tests.random_days.random_day import random_day, scenario_with_ways
from tests.random_days.results_file import ResultsFile, code_digest
from tests.random_days.step_order import FIRST, is_free, reordered
from tests.shipped import shipped

SAMPLE = [
    ("departure", 1),
    ("circuit", 3),
    ("circuit", 9),
    ("rejected take-off", 301),
    ("start approved with the push", 501),
    ("one clearance for push and start", 501),
]
"""Kinds and seeds.  In the circuits of 3 and 9 a light aeroplane is soon at the height of the circuit; after the rejected
take-off of 301 records are lost every few seconds, so that its end is not known for long."""
LAST = {
    "departure": {"takeoff"},
    "circuit": {"dark", "secured"},
    "rejected take-off": {"return_to_stand", "taxi_again", "dark"},
    "start approved with the push": {"takeoff"},
    "one clearance for push and start": {"takeoff"},
}
"""Last gates; where records are lost, that the last checklist was read may not be verifiable."""


@pytest.fixture(scope="module")
def flown() -> Mapping[tuple[str, int], DayResult]:
    """The sample, in parallel on the available cores."""
    return {job: result for job, (result,) in fly(SAMPLE, os.cpu_count() or 1)}


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
    flown = {name for kind in OTHERWISE.values() for name in kind.events}
    known = {event.id for name in ("departure", "sector") for event in scenario_with_ways(name).events}
    assert known - flown == {"second_sector"}
    assert sum(kind.count for kind in NORMAL.values()) >= 1000
    assert sum(kind.count for kind in OTHERWISE.values()) + LAID_OVER * len(correct_days()) >= 200


def test_every_correct_day_is_laid_over_or_says_why_not() -> None:
    """Days of all files, each on a flight that is flown; those with another finding, or left out, have a reason."""
    days = {day.id: day for file in sorted(FOLDER.glob("*.yaml")) for day in load_cases(file.name, FOLDER)}
    laid = {day.id for day in correct_days()}
    silent = {name for name, day in days.items() if is_silent(day.finds.values())}
    assert laid == (silent | TOLD_ALL_THE_SAME.keys()) - NOT_LAID_OVER.keys()
    assert days.keys() >= {*TOLD_ALL_THE_SAME, *NOT_LAID_OVER}
    assert not silent & TOLD_ALL_THE_SAME.keys()
    assert {days[name].flight for name in laid} <= PACKS.keys()


def test_a_day_fits_some_sheets() -> None:
    """Snow falls on a cold day and not on a warm one; most days fit every sheet."""
    snow = next(day for day in correct_days() if day.id == "wing_anti_ice_in_snow")
    assert fits(snow, {"trip.outside_air_temperature": 2.0})
    assert not fits(snow, {"trip.outside_air_temperature": 9.0})
    sheets = [random_day("sector", seed).trip.values for seed in range(1, LAID_OVER + 1)]
    assert [day.id for day in correct_days() if not any(fits(day, sheet) for sheet in sheets)] == []


def test_a_run_goes_on_where_it_was(tmp_path: Path) -> None:
    """A stored result is known to the next run of the same code, and not to one of other code."""
    path, result = tmp_path / "results.jsonl", DayResult("circuit", 3, frames=7, false=["10 s notice x"])
    ResultsFile(path).append(("circuit", 3), [result])
    assert ResultsFile(path).known == {("circuit", 3): [result]}
    path.write_text(path.read_text("utf-8").replace(code_digest(), "other"), "utf-8")
    assert ResultsFile(path).known == {}
    assert ResultsFile(path).outdated == 1


def test_what_is_not_sent_is_not_received() -> None:
    """A simulator without calls sends none: no call is entered, and nothing is found all the same."""
    kind = OTHERWISE["circuit without calls"]
    day = random_day(kind.scenario, 4)
    log, _ = record_day(day, Flight(day.scenario, seed=4, rate_hz=2.0), without=kind.without)
    assert len(log.sim_s) > 1000
    assert not log.calls


@pytest.mark.parametrize(("name", "faults"), [("flight.airspeed", ()), ("flight.airspeeed", ("airspeeed",))])
def test_a_pack_with_a_faulty_condition_is_not_flown(
    tmp_path: Path, name: str, faults: tuple[str, ...]
) -> None:
    """Such a condition is never judged, so that a flight without findings would prove nothing."""
    (tmp_path / "trip_demo.yaml").write_bytes((SHIPPED_DIR / "trainer" / "trip_demo.yaml").read_bytes())
    top = "pack: {id: more, title: More, extends: trainer}\nwatches:\n  w: {label: W, seat: pilot, why: test, expect: "
    (tmp_path / "pack.yaml").write_text(f"{top}{name} < 150 kt}}\n", "utf-8")
    with pytest.raises(InputFaults, match=faults[0]) if faults else nullcontext():
        shipped(str(tmp_path))
