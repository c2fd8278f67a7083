"""Engines off before any flight: findings at the gate, excuses in an emergency, and another departure."""

from __future__ import annotations

from functools import cache

from rules.judge.judge import Judge
from rules.signals.model import Value
from tests.packs_flight.recorded_sector import JudgedFlight, Moment, State
from tests.packs_flight.sector_events import record
from tests.shipped import shipped

STARTER_ON: dict[str, Value] = {
    "engine.2.start_valve": "open",
    "engine.2.start_switch": "start",
    "engine.2.n2": 12.0,
}
DOORS_OPEN = {"door.1.left": "open", "door.1.right": "open", "door.slides": "armed"}


@cache
def moments() -> tuple[Moment, ...]:
    """A return to the stand, until a minute after the engines stand still."""
    flown = record("return_to_stand", 1).moments
    cut_s = next(m.sim_s for m in flown if m.sim_s > 600.0 and m.state["engine.1.fuel_lever"] == "closed")
    return tuple(m for m in flown if m.sim_s < cut_s + 60.0)


def returned() -> JudgedFlight:
    """The flight, judged."""
    return JudgedFlight(Judge(*shipped("twin_jet"))).play(moments())


def test_a_start_after_a_return_is_no_next_sector() -> None:
    """Who starts again needs no other briefing, clearance or walk-round: what was done before the first start counts."""
    flight, last = returned(), moments()[-1]
    assert flight.phases[-1] == "shutdown"
    for second in range(1, 12):
        flight.send(last.sim_s + second, {**last.state, **STARTER_ON})
    assert flight.phases[-2:] == ["before_start", "engine_start"]
    assert not [item for item in flight.found if item.startswith(("flow.preflight.", "flow.panel_entries."))]


def test_who_leaves_a_burning_aeroplane_does_not_park_it() -> None:
    """Doors with armed slides are what an evacuation needs; nothing is asked of parking or securing."""

    def burning(sim_s: float, state: State) -> dict[str, str]:
        if sim_s < 600.0 or state["engine.1.fuel_lever"] == "open":
            return {}
        return {"fire.engine.1.handle": "pulled", "electrical.battery.switch": "on"} | DOORS_OPEN

    flight = JudgedFlight(Judge(*shipped("twin_jet"))).play(moments(), burning)
    last = moments()[-1]
    for second in range(1, 12):
        state = {**last.state, **burning(last.sim_s, last.state), "electrical.battery.switch": "off"}
        flight.send(last.sim_s + second, state)
    assert flight.phases[-1] == "before_start"
    parking = ("flow.parking.", "flow.secure.", "flow.after_landing.", "watch.slides_with_door")
    assert not [item for item in flight.found if item.startswith(parking)]


def test_armed_slides_with_an_open_door_at_the_stand_are_told() -> None:
    """Without a fire it is no evacuation."""
    flight, last = returned(), moments()[-1]
    for second in range(1, 5):
        flight.send(last.sim_s + second, {**last.state, **DOORS_OPEN})
    assert "watch.slides_with_door" in flight.found
