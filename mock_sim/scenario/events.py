"""Inserts events into a scenario: things that happen to the crew, and the steps with which they respond.

Takes: a scenario and names of its events.  Gives: the changed scenario, and the sectors that follow it.
"""

from __future__ import annotations

from collections.abc import Iterable

from mock_sim.scenario.model import Detour, Scenario, ScenarioEvent, Step
from rules.faults import Fault, InputFaults, Place
from rules.source import unknown_fault
from rules.words import join_or


def choose_events(scenario: Scenario, names: Iterable[str]) -> tuple[ScenarioEvent, ...]:
    """Find events in the catalogue of a scenario.

    Args:
        scenario: has the catalogue.
        names: ids of events.

    Raises:
        InputFaults: each name that the catalogue lacks.
    """
    catalogue = {event.id: event for event in scenario.events}
    wanted = list(dict.fromkeys(names))
    faults = [_unknown(scenario, name, catalogue) for name in wanted if name not in catalogue]
    if faults:
        raise InputFaults(faults)
    return tuple(catalogue[name] for name in wanted)


def _unknown(scenario: Scenario, name: str, catalogue: Iterable[str]) -> Fault:
    """Return the fault for an event that the catalogue lacks."""
    expected = join_or(catalogue) or "none: it has no events"
    return unknown_fault(Place(f"scenario {scenario.name}"), "event", name, catalogue, expected)


def with_events(scenario: Scenario, events: Iterable[ScenarioEvent]) -> Scenario:
    """Return the scenario with events inserted, one after the other.

    Args:
        scenario: without these events.
        events: from its catalogue; of two that lead the same seat away at the same step both take effect.
    """
    for event in events:
        seats = dict(scenario.seats)
        for seat, detours in event.seats.items():
            for detour in detours:
                seats[seat] = _with_detour(seats.get(seat, ()), detour)
        update: dict[str, object] = {
            "seats": seats,
            "trip": scenario.trip | event.trip,
            "world": scenario.world | event.world,
            "ends": event.ends or scenario.ends,
        }
        scenario = scenario.model_copy(update=update)
    return scenario


def _with_detour(steps: tuple[Step, ...], detour: Detour) -> tuple[Step, ...]:
    """Return the steps of one seat with a detour inserted."""
    # Steps a b c d e, each detour X after b:
    #   to d:       a b X d e      c is left out
    #   no `to`:    a b X c d e
    #   last:       a b X
    #   to a:       a b X a b c d e
    keys = [step.key for step in steps]
    leave = 0 if detour.after is None else keys.index(detour.after) + 1
    back = len(keys) if detour.last else leave if detour.to is None else keys.index(detour.to)
    return (*steps[:leave], *detour.steps, *steps[back:])
