"""The seat that owns an item is the seat that does it: in a correct flight of the mock crew."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from mock_sim.run import Flight
from rules.language.checked_tree import Condition
from rules.language.traversal import signal_names
from rules.packs.condition_facts import calls_awaited, compared_signals
from rules.packs.model import SPEAKERS, FindingKind, Item, Watch, declared_id
from tests.sentences.flights import fly

BOTH_SIDES = {
    "flow.panel_entries.speeds_agree",
    "flow.landing_configuration.landing_altimeters",
    "flow.shut_down_ready.stand_power",  # the APU is started, or the ground connects its power
}
"""Items that compare what one seat set with what the other set."""

SEATS = {"captain", "first_officer"}
PEOPLE = {*SEATS, *SPEAKERS}
"""Who can be an owner; the weather and the aeroplane are nobody."""

OF_BOTH = {
    "watch.altimeter_settings",  # one seat's setting against the other's
    "watch.altimeter_settings_departure",
    "watch.altimeter_modes",
    "watch.thrust_asymmetry",  # the levers are the captain's, the fire test is an excuse
}
"""Watches on what several people handle, booked to the one who has to act."""


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

    def seats_of(self, name: str) -> set[str]:
        """All who handled a control in the flight."""
        return {seat for _, seat in self._acts.get(name, ())}

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
    return _doers_until(item.condition, min(times_s))


def _doers_until(condition: Condition, until_s: float) -> set[str]:
    """Who handled last, up to a time, what a condition judges; where it judges events alone, what it reads."""
    judged = compared_signals(condition) or signal_names(condition)
    handled = {_acts().seat_of(name, until_s) for name in judged} & PEOPLE
    # A call of others is waited for, so it shows no owner.
    called = {_acts().seat_of(f"call.{name}", until_s) for name in calls_awaited(condition)}
    return handled | called & SEATS


def test_the_owner_of_an_item_is_the_seat_that_does_it() -> None:
    """Errors are booked to the seat that makes them; an item that both seats do may belong to either."""
    flight = fly("twin_jet")
    doers: dict[str, set[str]] = {}
    owners: dict[str, str] = {}
    for item in flight.pack.items.values():
        declared = declared_id(item.id)
        doers.setdefault(declared, set()).update(_doers(item, flight.gates_s, flight.gates_of(item.id)))
        owners[declared] = item.owner or item.seat
    others = {name: seats for name, seats in doers.items() if seats and owners[name] not in seats}
    assert set(others) - BOTH_SIDES == set(), others
    assert sum(bool(seats) for seats in doers.values()) > 100


def _handled(watch: Watch) -> set[str]:
    """Who handles what a watch expects, at any time of the flight."""
    return {seat for name in compared_signals(watch.expect) for seat in _acts().seats_of(name)} & PEOPLE


def test_the_owner_of_a_watch_is_one_who_handles_what_it_expects() -> None:
    """A watch on a control is booked to somebody who moves it; an event of the aeroplane to nobody."""
    watches = [w for w in fly("twin_jet").pack.watches if w.finding is not FindingKind.AEROPLANE_EVENT]
    handled = {watch.id: _handled(watch) for watch in watches}
    others = {
        watch.id: handled[watch.id]
        for watch in watches
        if handled[watch.id] and (watch.owner or watch.seat) not in handled[watch.id]
    }
    assert {name: who for name, who in others.items() if declared_id(name) not in OF_BOTH} == {}
    assert sum(bool(who) for who in handled.values()) > 25
