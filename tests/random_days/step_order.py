"""Another order of the steps within a seat, where no step waits for the one before.

A run is a row of steps of one seat that only set switches: they wait for nothing, make no call, move nothing and take no
control of the aeroplane.  Such a crew member may do them in any order, except where `FIRST` says why not.

Takes: a scenario.  Gives: the scenario with shuffled runs.
"""

from __future__ import annotations

from collections.abc import Iterable
from random import Random

from mock_sim.scenario import Scenario
from mock_sim.scenario.model import Step

FIRST: dict[tuple[str, str], str] = {
    ("avionics_off", "cut_off"): "the radios are off before the engine, and with it the alternator, stops",
    ("master", "flaps_up"): "the flaps need power",
    ("master", "beacon"): "the beacon needs power",
    ("battery_check", "flaps_down"): "the flaps need power",
    ("transponder_off", "avionics_off"): "the transponder is switched off while it has power",
    ("apu_bleed", "altimeter"): "the packs follow the bleed",
}
"""Pairs of steps whose order matters, each with its reason."""


def reordered(scenario: Scenario, random: Random) -> Scenario:
    """Shuffle the runs of every seat."""
    seats = {seat: tuple(_shuffled(steps, random)) for seat, steps in scenario.seats.items()}
    return scenario.model_copy(update={"seats": seats})


def is_free(step: Step) -> bool:
    """True for a step that only sets switches."""
    return not (step.wait or step.calls or step.move or step.drive or step.fly) and bool(step.settings)


def _shuffled(steps: Iterable[Step], random: Random) -> list[Step]:
    done, run = list[Step](), list[Step]()
    for step in steps:
        if is_free(step):
            run.append(step)
            continue
        done += _shuffled_run(run, random)
        done.append(step)
        run = []
    return done + _shuffled_run(run, random)


def _shuffled_run(run: list[Step], random: Random) -> list[Step]:
    """The run in a random order that keeps the pairs of `FIRST`, and of two steps that set one switch."""
    order = random.sample(run, len(run))
    found: list[Step] = []
    while order:
        free = next(
            step
            for step in order
            if not any(_comes_first(other, step, run) for other in order if other is not step)
        )
        order.remove(free)
        found.append(free)
    return found


def _comes_first(first: Step, second: Step, run: list[Step]) -> bool:
    """True if the first must come before the second."""
    shared = bool(set(first.settings) & set(second.settings)) and run.index(first) < run.index(second)
    return (first.key, second.key) in FIRST or shared
