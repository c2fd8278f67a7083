"""Tests of slips: each kind of change makes exactly its change to its step, and to no other."""

from __future__ import annotations

from typing import Any

import pytest

from mock_sim.scenario import Scenario, Slip, choose_slips, with_slips
from mock_sim.scenario.model import Step
from rules.faults import InputFaults

STEPS = [
    {"key": "a", "set": {"pump": "on", "lever": 5}, "calls": ["ready"]},
    {"key": "b", "wait": [{"call": "cleared"}], "move": [{"signal": "lever", "to": 10, "over_s": 2}]},
    {"key": "c", "set": {"lamp": "on"}},
]


def slip(step: str = "a", **change: object) -> Slip:
    """A slip of the captain."""
    return Slip.model_validate(
        {
            "id": "it",
            "kind": "skip",
            "seat": "captain",
            "sentence": "It.",
            "signals": ["pump"],
            "step": step,
            "change": change,
        }
    )


def scenario(*slips: Slip) -> Scenario:
    """Three steps of the captain and one of the ground crew."""
    return Scenario.model_validate(
        {
            "name": "short",
            "title": "Short",
            "world": {},
            "trip": {},
            "ends": [{"done": "captain.c"}],
            "longest_s": 60,
            "seats": {"captain": STEPS, "ground": [{"key": "a"}]},
            "slips": slips,
            "demo": [one.id for one in slips],
        }
    )


def steps(one: Slip) -> dict[str, Step]:
    """The captain's steps with a slip in them, by key and in order."""
    return {step.key: step for step in with_slips(scenario(), [one]).seats["captain"]}


def test_leave_leaves_one_control_alone() -> None:
    """Only the named control is not set; the call is still made."""
    changed = steps(slip(leave=["pump"]))["a"]
    assert changed.settings == {"lever": 5}
    assert changed.calls == ("ready",)


def test_omit_leaves_the_step_empty_but_in_its_place() -> None:
    """The step sets and calls nothing, but a seat that waits for the step continues."""
    changed = steps(slip(omit=True))
    assert (changed["a"].settings, changed["a"].calls) == ({}, ())
    assert list(changed) == ["a", "b", "c"]


def test_instead_changes_settings_and_movements() -> None:
    """Another value is set, or moved to."""
    assert steps(slip(instead={"lever": 1}))["a"].settings["lever"] == 1
    assert steps(slip(step="b", instead={"lever": 1}))["b"].move[0].to == 1


def test_wait_replaces_the_wait_of_a_step() -> None:
    """A step that waits for nothing comes too early."""
    assert steps(slip(step="b", wait=[]))["b"].wait == ()


@pytest.mark.parametrize(
    ("change", "order"), [({"before": "a"}, "cab"), ({"after": "a"}, "acb"), ({"omit": True}, "abc")]
)
def test_a_step_can_change_its_place(change: dict[str, Any], order: str) -> None:
    """`before` and `after` move the step within its seat."""
    assert "".join(steps(slip(step="c", **change))) == order


def test_a_late_step_is_a_slip_when_the_other_is_done_without_it() -> None:
    """The step that should come second has the slip too, so that the record has its time."""
    changed = steps(slip(step="a", after="b"))
    assert {key: step.slips for key, step in changed.items()} == {"b": ("it",), "a": ("it",), "c": ()}


def test_then_adds_a_step_after_a_correct_one() -> None:
    """The first step is correct and is undone later, so only the added step has the slip."""
    changed = steps(slip(then=[{"key": "undo", "set": {"pump": "off"}}]))
    assert list(changed) == ["a", "undo", "b", "c"]
    assert (changed["a"].slips, changed["undo"].slips) == ((), ("it",))


def test_other_steps_and_seats_stay_as_they_are() -> None:
    """A slip touches one step of one seat."""
    before, after = scenario(), with_slips(scenario(), [slip(leave=["pump"])])
    assert after.seats["captain"][1:] == before.seats["captain"][1:]
    assert after.seats["ground"] == before.seats["ground"]


def test_slips_are_chosen_by_name_and_group() -> None:
    """A repeated name counts once; `demo` and `all` are groups; an unknown name gives the nearest."""
    catalogue = scenario(slip(leave=["pump"]))
    assert [one.id for one in choose_slips(catalogue, ["it", "demo", "all"])] == ["it"]
    with pytest.raises(InputFaults, match="did you mean it"):
        choose_slips(catalogue, ["itt"])
