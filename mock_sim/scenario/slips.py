"""Put slips into a scenario: the same procedure, done wrong in the ways that were asked for.

Takes: a scenario and slips.  Gives: a scenario whose changed steps carry the slips' names.
"""

from __future__ import annotations

from collections.abc import Iterable

from mock_sim.scenario.model import Correction, Scenario, Setting, Slip, Step
from rules.faults import Fault, InputFaults, Place
from rules.source import nearest_word


def choose_slips(scenario: Scenario, names: Iterable[str]) -> tuple[Slip, ...]:
    """Find slips in the catalogue of a scenario.

    Args:
        scenario: it has the catalogue.
        names: ids of slips; `demo` stands for those that a demonstration uses, `all` for all.

    Raises:
        InputFaults: every name that the catalogue lacks.
    """
    catalogue = {slip.id: slip for slip in scenario.slips}
    groups = {"demo": scenario.demo, "all": tuple(catalogue)}
    wanted = [name for asked in names for name in groups.get(asked, (asked,))]
    faults = [_unknown(scenario, name, catalogue) for name in wanted if name not in catalogue]
    if faults:
        raise InputFaults(faults)
    return tuple(catalogue[name] for name in dict.fromkeys(wanted))


def _unknown(scenario: Scenario, name: str, catalogue: Iterable[str]) -> Fault:
    """A slip that nobody has scripted."""
    near = nearest_word(name, catalogue)
    hint = f"did you mean {near}?" if near else "there is: " + ", ".join(catalogue)
    return Fault(Place(f"scenario {scenario.name}"), f"no slip '{name}'", "a slip of its catalogue", hint)


def with_slips(scenario: Scenario, slips: Iterable[Slip]) -> Scenario:
    """The scenario with slips in it, one after the other.

    Args:
        scenario: as it should go.
        slips: from its catalogue; two that change the same step both take effect.
    """
    for slip in slips:
        seats = {**scenario.seats, slip.seat: _with_slip(scenario.seats[slip.seat], slip)}
        scenario = scenario.model_copy(update={"seats": seats})
    return scenario


def _with_slip(steps: tuple[Step, ...], slip: Slip) -> tuple[Step, ...]:
    """The steps of one seat with a slip in them."""
    at = next(number for number, step in enumerate(steps) if step.key == slip.step)
    changed = _altered_step(steps[at], slip)
    corrections = _corrections(steps[at], slip)
    rest = [_mark_overtaking(step, slip) for step in (*steps[:at], *steps[at + 1 :])]
    block = [changed, *(step.model_copy(update={"slips": (slip.id,)}) for step in slip.change.then)]
    block[-1] = block[-1].model_copy(update={"corrections": (*block[-1].corrections, *corrections)})
    place = _insert_position(rest, slip, at)
    return (*rest[:place], *block, *rest[place:])


def _corrections(step: Step, slip: Slip) -> tuple[Correction, ...]:
    """How the slip is put right later: as it says, or as the step would have left its controls."""
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
    """The step that is now done before its time: that is the moment at which the slip is made."""
    return (
        step.model_copy(update={"slips": (*step.slips, slip.id)}) if step.key == slip.change.after else step
    )


def _insert_position(rest: list[Step], slip: Slip, at: int) -> int:
    """Where the changed step now stands among the others."""
    for number, step in enumerate(rest):
        if step.key == slip.change.before:
            return number
        if step.key == slip.change.after:
            return number + 1
    return at


def _altered_step(step: Step, slip: Slip) -> Step:
    """The step that the slip is about, done wrong."""
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
    """True where the step itself is done right and only what follows it is wrong."""
    return slip.change.model_copy(update={"then": ()}) == type(slip.change)()
