"""Flights other than one circuit: the phases follow, and repeated phases need their items again."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from tests.packs_trainer.circuit_steps import (
    CIRCUIT,
    GO_AROUND,
    REJECTED,
    TAXI_BACK,
    TOUCH_AND_GO,
    E,
    before,
    since,
)
from tests.packs_trainer.scripted_circuit import Changes, ScriptedCircuit, Step

COURSES: dict[str, tuple[list[Step], list[str]]] = {
    "go-around": ([*before("short"), *GO_AROUND, *since("level")], ["approach", "go_around", "cruise", "approach", "landing"]),
    "touch-and-go": ([*before("slow"), *TOUCH_AND_GO, *since("level")], ["landing", "roll_out", "takeoff", "initial_climb", "cruise"]),
    "rejected take-off": (
        [*before("rotate"), *REJECTED, *since("ready")],
        ["line_up", "takeoff", "before_takeoff", "line_up", "takeoff", "initial_climb"],
    ),
    "taxi back": (
        [*before("park"), *TAXI_BACK, *since("full")],
        ["after_landing", "taxi_in", "before_takeoff", "line_up", "takeoff", "initial_climb"],
    ),
    "second flight": ([*CIRCUIT, *CIRCUIT[1:]], ["dark", "secured", "parked", "before_start", "engine_start"]),
}  # fmt: skip


def follows_in(phases: Sequence[str], part: Sequence[str]) -> bool:
    """True if these phases come one after the other."""
    return any(list(phases[n : n + len(part)]) == list(part) for n in range(len(phases)))


@pytest.mark.parametrize("name", COURSES)
def test_correct_flight_has_no_findings(name: str) -> None:
    """The phases are those that are flown, to the end, without findings and notices."""
    steps, part = COURSES[name]
    flight = ScriptedCircuit().fly(steps)
    assert follows_in(flight.phases, part)
    assert flight.phases[-1] == "secured"
    assert flight.found == {}
    assert flight.notice_sentences == []


def test_go_around_needs_its_own_calls() -> None:
    """After a go-around the clearance and the checklists of the first approach do not count."""
    second_try = [step._replace(calls=()) for step in since("level")]
    flight = ScriptedCircuit().fly([*before("short"), *GO_AROUND, *second_try], until="flare")
    assert flight.found == {
        "flow.downwind.read_downwind": "omitted",
        "flow.before_landing.landing_clearance": "omitted",
        "flow.before_landing.read_before_landing": "omitted",
    }


def test_go_around_done_wrong() -> None:
    """Part throttle, carburettor heat, full flap and too little speed give notices during the climb."""
    wrong = {
        "throttle_up": {f"{E}throttle": 88.0},
        "heat_off": {"ice.carburettor": 100.0},
        "flaps_16": {"controls.flap.lever": 28.0, "controls.flap.position": 28.0},
        "climbing": {"flight.airspeed": 50.0},
    }
    flight = ScriptedCircuit().fly([*before("short"), *GO_AROUND], wrong, until="clean_up")
    assert {item: kind for item, kind in flight.found.items() if ".go_around." in item} == {
        "flow.go_around.full_power": "omitted",
        "flow.go_around.heat_cold": "omitted",
        "flow.go_around.flaps_partial": "omitted",
        "flow.go_around.go_around_speed": "limit_exceeded",
    }


def test_next_take_off_needs_its_own_clearance() -> None:
    """After a rejected take-off neither the clearance nor the checklist of the first counts."""
    second_try = [step._replace(calls=()) for step in since("ready")]
    flight = ScriptedCircuit().fly([*before("rotate"), *REJECTED, *second_try], until="rotate")
    assert "flow.line_up.clearance" in flight.found
    assert "flow.before_takeoff.read_before_takeoff" in flight.found


def test_controls_are_checked_after_each_start() -> None:
    """The check of the first flight does not count for the second."""
    second = [step for step in CIRCUIT[1:] if not step.name.startswith(("elevator", "aileron", "rudder"))]
    flight = ScriptedCircuit().fly([*CIRCUIT, *second], until="")
    assert set(flight.found) == {f"flow.before_takeoff.{axis}" for axis in ("elevator", "aileron", "rudder")}


def test_without_calls_the_gates_are_cued_by_signals() -> None:
    """A simulator without calls gets no notices about them, and a slip is still found before the roll."""
    missing_calls = sorted({call for step in CIRCUIT for call in step.calls})
    assert ScriptedCircuit().fly(CIRCUIT, missing_calls=missing_calls).found == {}
    flight = ScriptedCircuit().fly(
        CIRCUIT, {"set": {"controls.flap.lever": 28.0}}, until="rotate", missing_calls=missing_calls
    )
    assert flight.found == {"flow.before_takeoff.flaps": "wrong_value"}
    assert flight.finding("flow.before_takeoff.flaps").sim_s < flight.entered_s("takeoff")


def test_lean_above_a_high_field() -> None:
    """Full rich is needed below 3 000 ft of density altitude, and an error above 5 000 ft."""
    high: dict[str, Changes] = {
        "set": {"flight.pressure_altitude": 5600.0, "flight.outside_air_temperature": 25.0}
    }
    assert ScriptedCircuit().fly(CIRCUIT, high, until="full").found == {
        "flow.before_takeoff.mixture_high": "omitted"
    }
    leaned: dict[str, Changes] = {"set": {**high["set"], f"{E}mixture": 75.0}}
    assert ScriptedCircuit().fly(CIRCUIT, leaned, until="full").found == {}


def test_night_needs_lights() -> None:
    """At night the position lights are needed for the start, and the taxi light to move."""
    night: dict[str, Changes] = {
        "cold": {"weather.night": "yes"},
        "release": {"gear.parking_brake": "released", "flight.ground_speed": 1.5},
    }
    flight = ScriptedCircuit().fly(CIRCUIT, night, until="rolling")
    assert set(flight.found) == {
        "flow.before_start.navigation_lights_start", "flow.after_start.navigation_lights", "flow.after_start.taxi_light",
    }  # fmt: skip
