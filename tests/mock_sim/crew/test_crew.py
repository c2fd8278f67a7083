"""Tests of the crew, in a trivial cockpit and on a manual clock."""

from __future__ import annotations

from typing import Any

import pytest

from mock_sim.crew import Crew
from mock_sim.scenario import Scenario, Slip
from tests.mock_sim.fake_cockpit import FakeCockpit


def scenario(ends: str, **seats: object) -> Scenario:
    """Return a scenario of some seats that ends when one step is done."""
    return Scenario.model_validate(
        {
            "name": "short",
            "title": "Short",
            "world": {"runway": "trip.runway"},
            "trip": {"runway": "14", "flap": 5},
            "ends": [{"done": ends}],
            "longest_s": 60,
            "seats": seats,
        }
    )


def work(
    crew: Crew, until_s: float, cockpit: FakeCockpit | None = None, tick_s: float = 0.5
) -> dict[float, Any]:
    """Let time pass; return the cockpit's controls at each moment."""
    seen: dict[float, Any] = {}
    for count in range(int(until_s / tick_s) + 1):
        crew.tick(count * tick_s)
        seen[count * tick_s] = dict(cockpit.values) if cockpit else {}
    return seen


def test_the_world_and_the_trip_values_are_set() -> None:
    """The scenario's world is set before the first moment."""
    cockpit = FakeCockpit()
    Crew(scenario("captain.a", captain=[{"key": "a"}]), cockpit)
    assert cockpit.values["runway"] == "14"


def test_both_seats_act_at_the_same_time() -> None:
    """A long task of one pilot does not delay the other."""
    cockpit = FakeCockpit()
    seats = {
        "captain": [{"key": "long", "takes_s": 20, "set": {"pump": "on"}}],
        "first_officer": [{"key": "short", "takes_s": 1, "set": {"lamp": "on"}}],
    }
    work(Crew(scenario("captain.long", **seats), cockpit), 10)
    assert (cockpit.values["pump"], cockpit.values["lamp"]) == ("off", "on")


def test_a_step_waits_for_calls_steps_seconds_and_signals() -> None:
    """Each kind of wait delays the step until it is satisfied, one after the other."""
    cockpit = FakeCockpit()
    seats = {
        "captain": [{"key": "a", "takes_s": 4, "calls": ["ready"]}],
        "ground": [
            {
                "key": "b",
                "takes_s": 0,
                "wait": [
                    {"call": "ready"},
                    {"done": "captain.a"},
                    {"seconds": 3},
                    {"signal": "speed", "at_least": 60},
                ],
                "set": {"lamp": "on"},
            }
        ],
    }
    crew = Crew(scenario("ground.b", **seats), cockpit)
    work(crew, 12)
    assert (cockpit.values["lamp"], crew.current_steps) == ("off", {"ground": "b"})
    cockpit.values["speed"] = 60.0
    crew.tick(12.5)
    assert (cockpit.values["lamp"], crew.finished) == ("on", True)


@pytest.mark.parametrize(
    ("wait", "speed", "goes_on"),
    [
        ({"at_least": 10, "at_most": 20}, 15.0, True),
        ({"at_least": 10, "at_most": 20}, 9.9, False),
        ({"at_least": 10, "at_most": 20}, 20.1, False),
        ({"is": 15}, 15.0, True),
        ({"is": "trip.flap"}, 5.0, True),
        ({"is": 15}, 15.1, False),
    ],
)
def test_a_signal_is_compared_in_its_own_unit(wait: dict[str, Any], speed: float, goes_on: bool) -> None:
    """The bounds are part of the range, and `is` is exact."""
    cockpit = FakeCockpit()
    cockpit.values["speed"] = speed
    step = {"key": "a", "takes_s": 0, "wait": [{"signal": "speed", **wait}]}
    crew = Crew(scenario("captain.a", captain=[step]), cockpit)
    crew.tick(0)
    assert crew.finished is goes_on


def test_a_movement_goes_evenly_and_stays() -> None:
    """A lever passes through the middle at half of the time, and stays before it goes on."""
    cockpit = FakeCockpit()
    moves = [{"signal": "lever", "to": 40, "over_s": 4, "hold_s": 2}, {"signal": "lever", "to": 0}]
    crew = Crew(scenario("captain.a", captain=[{"key": "a", "takes_s": 0, "move": moves}]), cockpit)
    seen = work(crew, 8, cockpit)
    assert [seen[at_s]["lever"] for at_s in (0.0, 2.0, 4.0, 5.5, 6.0)] == [0.0, 20.0, 40.0, 40.0, 0.0]


def test_each_call_is_returned_once_with_its_seat() -> None:
    """A tick returns each call once, with its seat, and the call stays on record."""
    step = {"key": "a", "takes_s": 0, "calls": ["ready", "clear"]}
    crew = Crew(scenario("ground.a", ground=[step]), FakeCockpit())
    assert [(call.name, call.by, call.sim_s) for call in crew.tick(0)] == [
        ("ready", "ground", 0),
        ("clear", "ground", 0),
    ]
    assert crew.tick(1) == []
    assert [call.name for call in crew.calls] == ["ready", "clear"]


def test_a_seed_makes_the_pace() -> None:
    """The same seed gives the same moments, another seed others, and the pace of one step is independent of the others."""
    first, second = {"key": "a", "takes_s": 10}, {"key": "b", "takes_s": 10}

    def step_times_s(seed: int, *steps: object) -> dict[str, float]:
        crew = Crew(scenario("captain.b", captain=steps), FakeCockpit(), seed)
        work(crew, 40, tick_s=0.1)
        return crew.step_times_s

    assert step_times_s(1, first, second) == step_times_s(1, first, second)
    assert step_times_s(1, first, second) != step_times_s(2, first, second)
    paced = step_times_s(1, first, second)
    assert step_times_s(1, second)["captain.b"] == pytest.approx(
        paced["captain.b"] - paced["captain.a"], abs=0.11
    )


def late_pump(after_s: float, wait: list[dict[str, str]]) -> Scenario:
    """The captain forgets the pump and switches it on later; after that the lamp is left alone."""
    mend = {
        "slip": "forgot",
        "wait": wait,
        "after_s": after_s,
        "settings": {"pump": "on"},
        "calls": ["pumped"],
    }
    first = {"key": "a", "takes_s": 0, "slips": ["forgot"], "corrections": [mend]}
    second = {"key": "b", "wait": [{"seconds": 4}], "takes_s": 0, "calls": ["ready"]}
    slip = {
        "id": "forgot", "kind": "skip", "seat": "captain", "sentence": "Forgot.", "signals": ["pump"], "step": "a",
        "change": {"omit": True},
    }  # fmt: skip
    return scenario(
        "captain.z", captain=[first, second, {"key": "z", "wait": [{"call": "never"}]}]
    ).model_copy(update={"slips": (Slip.model_validate(slip),)})


@pytest.mark.parametrize(("wait", "corrected_s"), [([], 3.0), ([{"call": "ready"}], 7.0)])
def test_a_slip_is_corrected_in_time(wait: list[dict[str, str]], corrected_s: float) -> None:
    """After the delay, or after the awaited event, the control is set and the call made, and the record has the time."""
    cockpit = FakeCockpit()
    crew = Crew(late_pump(3.0, wait), cockpit)
    seen = work(crew, 10, cockpit)
    assert (seen[corrected_s - 0.5]["pump"], seen[corrected_s]["pump"]) == ("off", "on")
    assert [slip.corrected_s for slip in crew.slip_records()] == [corrected_s]
    assert [(call.name, call.sim_s) for call in crew.calls if call.name == "pumped"] == [
        ("pumped", corrected_s)
    ]


def test_a_slip_without_correction_has_no_time() -> None:
    """Without the awaited event there is no time of correction."""
    crew = Crew(late_pump(3.0, [{"call": "pumped"}]), FakeCockpit())
    work(crew, 10)
    assert [slip.corrected_s for slip in crew.slip_records()] == [None]


def test_a_crew_takes_over_from_another() -> None:
    """The new crew does not repeat steps, knows the earlier calls, and leaves the world unchanged."""
    steps = [
        {"key": "a", "takes_s": 0, "set": {"pump": "on"}, "calls": ["ready"]},
        {"key": "b", "takes_s": 2, "set": {"lamp": "on"}},
    ]
    first = Crew(scenario("captain.b", captain=steps), FakeCockpit())
    work(first, 1)
    cockpit = FakeCockpit()
    second = Crew(scenario("captain.b", captain=steps), cockpit, previous=first)
    for half in range(2, 12):
        second.tick(half * 0.5)
    assert (cockpit.values["pump"], cockpit.values["lamp"], cockpit.values["runway"]) == ("off", "on", "")
    assert second.finished
    assert not first.finished
