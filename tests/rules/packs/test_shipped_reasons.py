"""Every rule of the shipped packs gives a reason or a source, and every warning its reason."""

from __future__ import annotations

from functools import cache

import pytest

from rules.packs.load_pack import load_pack
from rules.packs.model import Item, Level, Pack, Watch, declared_id


@cache
def _pack(name: str) -> Pack:
    return load_pack(name)


def _rules(name: str) -> dict[str, Item | Watch]:
    """Items and watches by their declared ids."""
    pack = _pack(name)
    rules: list[Item | Watch] = [*pack.items.values(), *pack.watches]
    return {declared_id(rule.id): rule for rule in rules}


@pytest.mark.parametrize("name", ["twin_jet", "trainer"])
def test_every_rule_gives_a_reason_or_a_source(name: str) -> None:
    """A rule without both cannot be taught in the debrief."""
    assert not [rule.id for rule in _rules(name).values() if not rule.why and not rule.source]


@pytest.mark.parametrize("name", ["twin_jet", "trainer"])
def test_every_warning_gives_its_reason(name: str) -> None:
    """A warning needs immediate awareness and immediate action (14 CFR 25.1322(b)); its reason says why."""
    assert not {rule for rule, one in _rules(name).items() if one.level is Level.WARNING and not one.why}


def test_nothing_at_the_stand_of_an_airliner_is_a_warning() -> None:
    """Before the push back there is time: a wrong paper or switch needs awareness at once, but no action at once."""
    pack = _pack("twin_jet")
    order = [phase.id for phase in pack.phases]
    at_stand = order[: order.index("push_back")]
    flows = [flow for flow in pack.flows.values() if flow.phase in at_stand]
    items = [pack.items[item] for flow in flows for ids in flow.seats.values() for item in ids]
    assert len(items) > 100
    assert not [item.id for item in items if item.level is Level.WARNING]
