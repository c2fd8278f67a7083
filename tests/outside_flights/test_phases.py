"""Phases of recorded flights by few signals, against the classifier of another library, and no false report."""

from __future__ import annotations

from functools import cache

import pytest

from rules.judge.events import ItemStatus
from rules.signals.model import Value
from tests.outside_flights.comparison import Judged, compare, judge_flight
from tests.outside_flights.samples import SIGNALS, Trajectory, read

AIRLINER = "performance 1"
PICTURE = "featured 7"
GAPS = ("featured 5", "featured 8")
SURVEY = "surveys 2"
LEAST_AGREEMENT = 0.95
LEAST_WITH_TWO_CLIMBS = 0.94
"""Two cruises, each recognised when it was level for 240 s, where OpenAP knows the whole minute."""
IN_ORDER = ["initial_climb", "climb", "high_climb", "cruise", "descent"]


@cache
def airliner() -> Trajectory:
    """Airliner from lift-off to landing, 11 808 s."""
    return read(AIRLINER)


@cache
def judged_airliner(*columns: str) -> tuple[Trajectory, Judged]:
    """Judge this flight with some of its columns alone."""
    flight = airliner().only(columns or airliner().columns)
    return flight, judge_flight(flight)


def in_the_air(entered: list[str]) -> list[str]:
    """Phases from the climb to the descent."""
    return [phase for phase in entered if phase in IN_ORDER]


def assert_nothing_is_claimed(judged: Judged) -> None:
    """No notice, no finding, and no item known that reads nothing of what was recorded."""
    assert judged.notices == []
    assert judged.findings == []
    pack, received = judged.judge.pack, set(SIGNALS.values())
    items = judged.judge.snapshot().items.values()
    for item in items:
        if item.status is not ItemStatus.NO_DATA:
            assert not received.isdisjoint(pack.items[item.id].signals), item
    assert sum(item.status is ItemStatus.NO_DATA for item in items) > 0.95 * len(items)


@pytest.mark.parametrize("columns", [(), ("altitude", "groundspeed")])
def test_the_phases_of_a_flight_agree_with_openap(columns: tuple[str, ...]) -> None:
    """At least 95 % of the time has the label of OpenAP, also by altitude and ground speed alone."""
    flight, judged = judged_airliner(*columns)
    found = compare(flight, judged)
    assert found.compared_s > 11_000
    assert found.agreement >= LEAST_AGREEMENT, found.seconds
    assert in_the_air(judged.entered) == IN_ORDER
    assert_nothing_is_claimed(judged)


def test_a_flight_that_draws_a_picture_agrees_where_both_have_a_label() -> None:
    """An airliner from taxi to taxi, by ADS-B: take-off, a second climb after a long low descent, landing."""
    flight = read(PICTURE)
    judged = judge_flight(flight)
    found = compare(flight, judged)
    assert found.agreement >= LEAST_WITH_TWO_CLIMBS, found.seconds
    assert judged.entered[-3:] == ["approach", "landing", "taxi_in"]
    assert {"taxi", "takeoff", "initial_climb", "cruise", "descent"} <= set(judged.entered)
    for notice in judged.notices:  # it did taxi faster than the invented type may
        assert notice.item == "watch.taxi_speed"


@pytest.mark.parametrize("name", GAPS)
def test_a_gap_says_nothing_of_signals_that_nobody_sends(name: str) -> None:
    """Whether a cabin's or a light's item applies is not known in a gap of the altitude; nothing of them is ever sent."""
    judged = judge_flight(read(name).part(0.0, 12_000.0))
    assert "cruise" in judged.entered
    assert [event.finding.item for event in judged.findings if "taxi_speed" not in event.finding.item] == []


@pytest.mark.parametrize(
    ("first_s", "last_s", "phase"),
    [
        (3000.0, 3400.0, "cruise"),  # at 36 000 ft
        (700.0, 800.0, "high_climb"),
        (10_700.0, 10_850.0, "descent"),
        (11_700.0, 11_806.0, "short_final"),
    ],
)
def test_a_flight_that_is_joined_in_the_air_is_recognised(first_s: float, last_s: float, phase: str) -> None:
    """The bridge connects in the air: the phase is found, no gate is judged, nothing is claimed."""
    sheet: dict[str, Value] = {
        "trip.field_elevation": 150.0,
        "trip.landing_elevation": 100.0,
        "trip.landing_qnh": 1013.25,
    }
    judged = judge_flight(airliner().part(first_s, last_s), trip=sheet)
    assert judged.phases[-1] == phase
    assert_nothing_is_claimed(judged)


def test_a_flight_that_is_joined_on_the_ground_is_recognised() -> None:
    """The bridge connects while it taxies, by ground speed and altitude."""
    flight = read(PICTURE)
    judged = judge_flight(flight.part(1430.0, 1700.0))
    assert judged.entered == ["power_up", "taxi"]
    assert judged.phases[-1] == "taxi"
    assert_nothing_is_claimed(judged)


def test_a_light_aeroplane_is_recognised_by_the_trainers_pack() -> None:
    """A survey flight at 100 kt: in the air, level flight, and nothing else is claimed."""
    judged = judge_flight(read(SURVEY).part(0.0, 3000.0), "trainer")
    assert "cruise" in judged.entered
    assert_nothing_is_claimed(judged)
