"""Every condition that time alone can change is explained again in each snapshot.

Takes: one condition of each form with a duration.  Gives: a test that none of them is left out.
"""

from __future__ import annotations

from dataclasses import fields
from typing import get_args

import pytest

from rules.judge.snapshot_inputs import Change, ConditionInputs
from rules.language import checked_tree as c
from rules.packs.model import Pack
from tests.rules.language.condition_strategies import NUMBERS, SWITCHES
from tests.shipped import shipped_pack

ON = c.WordIs(SWITCHES[0], ("on",))
READ = c.SignalValue(NUMBERS[0], unit="psi")
ONE = c.Constant(1.0, "psi")
NOTHING = Change(frozenset(), frozenset(), frozenset(), frozenset(), calls_changed=False)
TIMED: dict[type, c.Condition] = {
    c.TimedHistorically: c.TimedHistorically(ON, 2.0),
    c.TimedOnce: c.TimedOnce(c.Rise(ON), 2.0),
    c.Deadline: c.Deadline(ON, 2.0, c.Rise(ON)),
    c.Window: c.Relation(c.Window("highest", READ, 2.0, "psi"), ">", ONE),
    c.EventCount: c.Relation(c.EventCount(c.Rise(ON), 2.0), ">", ONE),
}


@pytest.fixture(scope="module")
def pack() -> Pack:
    """A pack that we ship; its rules do not matter here."""
    return shipped_pack("trainer")


@pytest.mark.parametrize("condition", TIMED.values(), ids=lambda condition: type(condition).__name__)
def test_a_condition_with_a_duration_is_always_affected(condition: c.Condition, pack: Pack) -> None:
    """Where nothing but the time has changed, a condition with a duration may have another reason."""
    assert ConditionInputs({"it": condition, "still": ON}, pack).affected(["it", "still"], NOTHING) == ["it"]


def test_every_node_with_a_duration_is_listed() -> None:
    """The nodes above are all those of the checked tree that have a duration."""
    nodes = {*get_args(c.Condition), *get_args(c.Term), *get_args(c.Event)}
    assert {node for node in nodes if "seconds" in {field.name for field in fields(node)}} == set(TIMED)
