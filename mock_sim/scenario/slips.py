"""Put slips into a scenario: the same procedure, done wrong in the ways that were asked for.

Takes: a scenario and slips.  Gives: a scenario whose changed steps carry the slips' names.
"""

from __future__ import annotations

from collections.abc import Iterable

from mock_sim.scenario.model import Mend, Scenario, Setting, Slip, Step
from rules.faults import Fault, InputFaults, Place
from rules.source import nearest


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
    near = nearest(name, catalogue)
    hint = f"did you mean {near}?" if near else "there is: " + ", ".join(catalogue)
    return Fault(Place(f"scenario {scenario.name}"), f"no slip '{name}'", "a slip of its catalogue", hint)


def with_slips(scenario: Scenario, slips: Iterable[Slip]) -> Scenario:
    """The scenario with slips in it, one after the other.

    Args:
        scenario: as it should go.
        slips: from its catalogue; two that change the same step both take effect.
    """
    for slip in slips:
        seats = {**scenario.seats, slip.seat: _slipped(scenario.seats[slip.seat], slip)}
        scenario = scenario.model_copy(update={"seats": seats})
    return scenario


def _slipped(steps: tuple[Step, ...], slip: Slip) -> tuple[Step, ...]:
    """The steps of one seat with a slip in them."""
    at = next(number for number, step in enumerate(steps) if step.key == slip.step)
    changed = _changed(steps[at], slip)
    mends = _mends(steps[at], slip)
    rest = [_overtaking(step, slip) for step in (*steps[:at], *steps[at + 1 :])]
    block = [changed, *(step.model_copy(update={"slips": (slip.id,)}) for step in slip.change.then)]
    block[-1] = block[-1].model_copy(update={"mends": (*block[-1].mends, *mends)})
    place = _place(rest, slip, at)
    return (*rest[:place], *block, *rest[place:])


def _mends(step: Step, slip: Slip) -> tuple[Mend, ...]:
    """How the slip is put right later: as it says, or as the step would have left its controls."""
    if slip.mended_after_s is None:
        return ()
    right: dict[str, Setting] = {**step.put, **{move.signal: move.to for move in step.move}}
    put = slip.mended_by or right
    calls = step.calls if slip.change.omit else ()
    return (Mend(slip=slip.id, wait=slip.mended_wait, after_s=slip.mended_after_s, put=put, calls=calls),)


def _overtaking(step: Step, slip: Slip) -> Step:
    """The step that is now done before its time: that is the moment at which the slip is made."""
    return (
        step.model_copy(update={"slips": (*step.slips, slip.id)}) if step.key == slip.change.after else step
    )


def _place(rest: list[Step], slip: Slip, at: int) -> int:
    """Where the changed step now stands among the others."""
    for number, step in enumerate(rest):
        if step.key == slip.change.before:
            return number
        if step.key == slip.change.after:
            return number + 1
    return at


def _changed(step: Step, slip: Slip) -> Step:
    """The step that the slip is about, done wrong."""
    change = slip.change
    left = set(change.leave) | (step.touched() if change.omit else set())
    settings = {name: change.instead.get(name, to) for name, to in step.put.items() if name not in left}
    moves = tuple(
        move.model_copy(update={"to": change.instead.get(move.signal, move.to)})
        for move in step.move
        if move.signal not in left
    )
    own = () if _only_then(slip) else (slip.id,)
    update: dict[str, object] = {"put": settings, "move": moves, "slips": (*step.slips, *own)}
    if change.omit:
        update |= {"calls": (), "drive": None}
    if change.wait is not None:
        update["wait"] = change.wait
    return step.model_copy(update=update)


def _only_then(slip: Slip) -> bool:
    """True where the step itself is done right and only what follows it is wrong."""
    return slip.change.model_copy(update={"then": ()}) == type(slip.change)()
