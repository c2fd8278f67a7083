"""Tests of bridge.floor: which device is meant."""

from __future__ import annotations

import pytest

from bridge.control import Request
from bridge.floor import Floor
from rules.packs.model import Pack
from tests.bridge.page.making import Flown


@pytest.fixture
def bays(pack: Pack) -> list[Flown]:
    """Two devices."""
    return [Flown(pack, name=name) for name in ("bay_1", "bay_2")]


def test_the_device_that_is_named_answers(bays: list[Flown]) -> None:
    """A request goes to the device that it names and to no other."""
    floor = Floor([bay.rig for bay in bays])
    assert floor.answer(Request("name", "Morning", device="bay_2")).done
    assert [bay.rig.session.name for bay in bays] == ["Session 1", "Morning"]


def test_where_there_is_only_one_it_need_not_be_named(bays: list[Flown]) -> None:
    """One device is meant without a word, but not by the name of another."""
    floor = Floor([bays[0].rig])
    assert floor.answer(Request("name", "Morning")).done
    assert not floor.answer(Request("name", "Noon", device="bay_2")).done
    assert bays[0].rig.session.name == "Morning"


def test_where_there_are_several_it_is_asked_which(bays: list[Flown]) -> None:
    """Without a name nothing is done, and all names are said; a name that is nearly one is suggested."""
    floor = Floor([bay.rig for bay in bays])
    unsaid = floor.answer(Request("name", "Morning"))
    assert (unsaid.done, unsaid.text) == (False, "which device?; expected one of bay_1, bay_2")
    wrong = floor.answer(Request("name", "Morning", device="bay_3"))
    assert "unknown device bay_3" in wrong.text
    assert "did you mean" in wrong.text
    assert [bay.rig.session.name for bay in bays] == ["Session 1", "Session 1"]
