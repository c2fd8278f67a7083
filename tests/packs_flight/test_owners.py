"""The seat that owns an item is the seat that does it: in a correct flight of the mock crew."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from mock_sim.run import Flight
from rules.packs.condition_facts import calls_awaited, compared_signals
from rules.packs.model import Item, declared_id
from tests.sentences.flights import fly

BOTH_SIDES = {"flow.panel_entries.speeds_agree", "flow.landing_configuration.landing_altimeters"}
"""Items that compare what one seat set with what the other set."""


class Acts:
    """The crew's actions in a flight: which seat handled a control last before a time."""

    def __init__(self, flight: Flight) -> None:
        """Read the times of all steps of a flight that has ended."""
        times_s = flight.crew.step_times_s
        self._acts: dict[str, list[tuple[float, str]]] = {}
        for seat, steps in flight.scenario.seats.items():
            for step in steps:
                at_s = times_s.get(f"{seat}.{step.key}")
                names = {*step.controls(), *(f"call.{call}" for call in step.calls)}
                for name in names if at_s is not None else ():
                    self._acts.setdefault(name, []).append((at_s or 0.0, seat))

    def seat_of(self, name: str, until_s: float) -> str:
        """The seat that handled a control or made a call last, up to a time; '' for nobody."""
        return max(
            ((at_s, seat) for at_s, seat in self._acts.get(name, ()) if at_s <= until_s), default=(0.0, "")
        )[1]


@cache
def _acts() -> Acts:
    flight = Flight("sector", seed=5, rate_hz=1.0, noise=False)
    for _ in flight:
        pass
    return Acts(flight)


def _doers(item: Item, gates_s: Mapping[str, float], gates: list[str]) -> set[str]:
    """Seats that did what an item judges, before the first gate that needs it."""
    times_s = [gates_s[gate] for gate in gates if gate in gates_s]
    if item.condition is None or not times_s:
        return set()
    names = [*compared_signals(item.condition), *(f"call.{name}" for name in calls_awaited(item.condition))]
    return {seat for name in names if (seat := _acts().seat_of(name, min(times_s)))} & {
        "captain",
        "first_officer",
    }


def test_the_owner_of_an_item_is_the_seat_that_does_it() -> None:
    """Errors are booked to the seat that makes them; an item that both seats do may belong to either."""
    flight = fly("twin_jet")
    doers: dict[str, set[str]] = {}
    owners: dict[str, str] = {}
    for item in flight.pack.items.values():
        declared = declared_id(item.id)
        doers.setdefault(declared, set()).update(_doers(item, flight.gates_s, flight.gates_of(item.id)))
        owners[declared] = item.seat
    others = {name: seats for name, seats in doers.items() if seats and owners[name] not in seats}
    assert set(others) - BOTH_SIDES == set(), others
    assert sum(bool(seats) for seats in doers.values()) > 100
