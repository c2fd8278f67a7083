"""Inserts slips into a scenario: the same procedure with the chosen errors.

Takes: a scenario and slips.  Gives: a scenario whose changed steps carry the slips' names.
"""

from __future__ import annotations

from collections.abc import Iterable

from mock_sim.scenario.model import Correction, Scenario, Setting, Slip, Step
from rules.faults import Fault, InputFaults, Place
from rules.source import unknown_fault
from rules.words import join_or


def choose_slips(scenario: Scenario, names: Iterable[str]) -> tuple[Slip, ...]:
    """Find slips in the catalogue of a scenario.

    Args:
        scenario: has the catalogue.
        names: ids of slips; `demo` is the list of the scenario, `all` is every slip.

    Raises:
        InputFaults: each name that the catalogue lacks.
    """
    catalogue = {slip.id: slip for slip in scenario.slips}
    groups = {"demo": scenario.demo, "all": tuple(catalogue)}
    wanted = [name for chosen in names for name in groups.get(chosen, (chosen,))]
    faults = [_unknown(scenario, name, catalogue) for name in wanted if name not in catalogue]
    if faults:
        raise InputFaults(faults)
    return tuple(catalogue[name] for name in dict.fromkeys(wanted))


def _unknown(scenario: Scenario, name: str, catalogue: Iterable[str]) -> Fault:
    """Return the fault for a slip that the catalogue lacks."""
    return unknown_fault(Place(f"scenario {scenario.name}"), "slip", name, catalogue, join_or(catalogue))


def with_slips(scenario: Scenario, slips: Iterable[Slip]) -> Scenario:
    """Return the scenario with slips inserted, one after the other.

    Args:
        scenario: without these slips.
        slips: from its catalogue; two that change the same step both take effect.
    """
    for slip in slips:
        seats = {**scenario.seats, slip.seat: _with_slip(scenario.seats[slip.seat], slip)}
        scenario = scenario.model_copy(update={"seats": seats})
    return scenario


def _with_slip(steps: tuple[Step, ...], slip: Slip) -> tuple[Step, ...]:
    """Return the steps of one seat with a slip inserted."""
    # Steps a b c, the slip changes b to B:
    #   leave, instead, wait:   a B c
    #   then x:                 a B x c     x carries the slip if B itself is right
    #   after c:                a c B       c carries the slip too: it is done before its turn
    #   before a:               B a c
    at = next(number for number, step in enumerate(steps) if step.key == slip.step)
    changed = _altered_step(steps[at], slip)
    corrections = _corrections(steps[at], slip)
    rest = [_mark_overtaking(step, slip) for step in (*steps[:at], *steps[at + 1 :])]
    block = [changed, *(step.model_copy(update={"slips": (slip.id,)}) for step in slip.change.then)]
    block[-1] = block[-1].model_copy(update={"corrections": (*block[-1].corrections, *corrections)})
    place = _insert_position(rest, slip, at)
    return (*rest[:place], *block, *rest[place:])


def _corrections(step: Step, slip: Slip) -> tuple[Correction, ...]:
    """Return the later correction: the slip's own, or what the step would have set."""
    if slip.corrected_after_s is None:
        return ()
    right: dict[str, Setting] = {**step.settings, **{move.signal: move.to for move in step.move}}
    put = slip.corrected_by or right
    calls = step.calls if slip.change.omit else ()
    return (
        Correction(
            slip=slip.id, wait=slip.corrected_wait, after_s=slip.corrected_after_s, settings=put, calls=calls
        ),
    )


def _mark_overtaking(step: Step, slip: Slip) -> Step:
    """Mark the step that is now done too early: at that moment the slip happens."""
    return (
        step.model_copy(update={"slips": (*step.slips, slip.id)}) if step.key == slip.change.after else step
    )


def _insert_position(rest: list[Step], slip: Slip, at: int) -> int:
    """Return the index of the changed step among the others."""
    for number, step in enumerate(rest):
        if step.key == slip.change.before:
            return number
        if step.key == slip.change.after:
            return number + 1
    return at


def _altered_step(step: Step, slip: Slip) -> Step:
    """Return the step of the slip with its change made."""
    change = slip.change
    left = set(change.leave) | (step.controls() if change.omit else set())
    settings = {name: change.instead.get(name, to) for name, to in step.settings.items() if name not in left}
    moves = tuple(
        move.model_copy(update={"to": change.instead.get(move.signal, move.to)})
        for move in step.move
        if move.signal not in left
    )
    own = () if _only_adds_steps(slip) else (slip.id,)
    update: dict[str, object] = {"settings": settings, "move": moves, "slips": (*step.slips, *own)}
    if change.omit:
        update |= {"calls": (), "drive": None}
    if change.wait is not None:
        update["wait"] = change.wait
    return step.model_copy(update=update)


def _only_adds_steps(slip: Slip) -> bool:
    """Return True if the step itself is right and only the added steps are wrong."""
    return slip.change.model_copy(update={"then": ()}) == type(slip.change)()
