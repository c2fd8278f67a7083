"""Each line of both packs is met in a correct flight, and unmet as soon as anything that it shows or judges is wrong."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import TypeAlias

import pytest

from rules.packs.model import Pack
from tests.checklists.breaking import ListResult, break_all, reading_of, signals_to_break
from tests.checklists.read_lists import SCENARIOS, JudgedState, fly
from tests.shipped import shipped, shipped_pack

Results: TypeAlias = dict[str, ListResult]

ON_GROUND = "which of two settings is compared"
GO_AROUND = "an exception, for a go-around or a height at which the line does not apply"
HIGH_FIELD = "the exception for a high field"
OTHERWISE: dict[str, dict[tuple[str, str, str], str]] = {
    "twin_jet": {("after_takeoff", "cabin_pressure", "cabin.differential"): "judged above 3 000 ft only"},
    "trainer": {
        ("before_start", "avionics", "engine.1.running"): "once the engine runs, the avionics must be on",
        ("after_start", "altimeter", "flight.on_ground"): ON_GROUND,
        ("after_start", "altimeter", "weather.qnh"): ON_GROUND,
        ("before_takeoff", "altimeter", "flight.on_ground"): ON_GROUND,
        ("before_takeoff", "altimeter", "weather.qnh"): ON_GROUND,
        ("downwind", "altimeter", "flight.on_ground"): ON_GROUND,
        ("run_up", "idle", "engine.1.throttle"): GO_AROUND,
        ("downwind", "mixture", "flight.outside_air_temperature"): HIGH_FIELD,
        ("downwind", "mixture", "flight.pressure_altitude"): HIGH_FIELD,
        ("before_landing", "mixture", "flight.outside_air_temperature"): HIGH_FIELD,
        ("before_landing", "mixture", "flight.pressure_altitude"): HIGH_FIELD,
        ("before_landing", "carburettor_heat", "engine.1.rpm"): GO_AROUND,
        ("before_landing", "carburettor_heat", "engine.1.throttle"): GO_AROUND,
        ("before_landing", "carburettor_heat", "flight.height"): GO_AROUND,
        ("before_landing", "flaps", "engine.1.throttle"): GO_AROUND,
        ("before_landing", "landing_light", "engine.1.throttle"): GO_AROUND,
        ("before_landing", "landing_light", "flight.height"): GO_AROUND,
        ("before_landing", "landing_light", "flight.on_ground"): GO_AROUND,
        ("after_landing", "landing_light", "weather.night"): "at night it may stay on",
    },
}
"""Signals of conditions whose wrong value alone leaves no line unmet, each with its reason; no answer shows one."""


def _visit(results: Results, pack: Pack, name: str, judged: JudgedState) -> None:
    results[name] = break_all(pack, name, judged)


def _break_pack(name: str) -> Results:
    """Fly a pack's scenario and break every line of every checklist on the way."""
    results: Results = {}
    fly(name, partial(_visit, results, shipped(name)[0]))
    return results


@pytest.fixture(scope="module")
def results() -> dict[str, Results]:
    """Results by pack and checklist; the packs are flown in parallel."""
    with ProcessPoolExecutor(len(SCENARIOS)) as pool:
        return dict(zip(SCENARIOS, pool.map(_break_pack, SCENARIOS), strict=True))


LISTS = [(pack, name) for pack in SCENARIOS for name in shipped_pack(pack).checklists]


@pytest.mark.parametrize(("pack", "name"), LISTS)
def test_a_correct_crew_completes_the_list(results: dict[str, Results], pack: str, name: str) -> None:
    """When a correct crew calls a checklist complete, every line is met and its reading is complete."""
    seen = results[pack][name]
    assert seen.unmet == set()
    assert seen.complete


@pytest.mark.parametrize(("pack", "name"), LISTS)
def test_each_wrong_signal_leaves_its_line_unmet(results: dict[str, Results], pack: str, name: str) -> None:
    """Every signal that a line shows or judges has a wrong value with which the line is not met, until it is right again."""
    seen = results[pack][name]
    expected = {
        (line.id.split(".")[2], signal)
        for line in shipped(pack)[0].checklists[name].lines
        for signal in signals_to_break(shipped(pack)[0], line)
    }
    otherwise = {pair for pair in expected if (name, *pair) in OTHERWISE[pack]}
    assert seen.broken | seen.unnoticed == expected
    assert seen.unnoticed == otherwise
    assert seen.not_restored == set()


@pytest.mark.parametrize("name", SCENARIOS)
def test_what_cannot_be_broken_alone_is_not_shown(name: str) -> None:
    """No answer shows a signal that has no wrong value of its own, and each such signal is judged by its line."""
    lines = {line.id: line for one in shipped_pack(name).checklists.values() for line in one.lines}
    for checklist, key, signal in OTHERWISE[name]:
        line = lines[f"checklist.{checklist}.{key}"]
        assert signal not in {one for names in line.shown.values() for one in names}
        assert signal in reading_of(shipped(name)[0], line).judged
