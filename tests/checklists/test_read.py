"""An unread checklist is a finding at a gate."""

from __future__ import annotations

from collections.abc import Collection

import pytest

from rules.packs.condition_facts import calls_awaited
from tests.checklists.read_lists import SCENARIOS, JudgedState, call_of, fly
from tests.shipped import shipped, shipped_pack

DEPARTURE = {
    "departure": "flow.before_start.departure_read",
    "before_start": "flow.before_start.before_start_read",
    "after_start": "flow.after_start.after_start_read",
    "before_taxi": "flow.before_taxi.before_taxi_read",
    "before_takeoff": "flow.before_takeoff.before_takeoff_read",
}
LISTS = [(pack, name) for pack in SCENARIOS for name in shipped_pack(pack).checklists]


@pytest.mark.parametrize(("pack", "name"), LISTS)
def test_every_list_has_an_item_that_asks_whether_it_was_read(pack: str, name: str) -> None:
    """An item that a gate needs waits for the call of the checklist, and says which rule or practice asks for it."""
    loaded = shipped_pack(pack)
    needed = {item for gate in loaded.gates for item in gate.needs}
    asking = [
        item
        for item in loaded.items.values()
        if item.id in needed
        and item.id.startswith("flow.")
        and call_of(name) in calls_awaited(item.condition)
    ]
    assert [item for item in asking if item.source or item.why]


def _found(missing_calls: Collection[str]) -> dict[str, str]:
    """Kinds of findings of a correct flight up to the climb, without some calls, by item."""
    flown = fly("twin_jet", _pass_by, missing_calls=missing_calls, until="after_takeoff")
    return {finding.item: str(finding.kind) for finding in flown.judge.findings}


def _pass_by(name: str, judged: JudgedState) -> None:
    """Do nothing at a checklist."""


def test_lists_that_nobody_read_are_found() -> None:
    """Each departure checklist that nobody called complete is a finding, and the flight has no other."""
    found = _found({call_of(name) for name in DEPARTURE})
    assert found == dict.fromkeys(DEPARTURE.values(), "omitted")


def test_without_calls_no_list_is_demanded() -> None:
    """A crew whose simulator has no calls gets no finding about checklists."""
    assert not set(_found(shipped("twin_jet")[0].calls)) & set(DEPARTURE.values())
