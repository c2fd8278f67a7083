"""Criteria of a stabilised approach: each is listed, known or not."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

from bridge.debrief.criteria import STABILISED_PREFIX, stabilised_criteria
from bridge.debrief.drawing.plots import flown_flows
from bridge.debrief.event_fold import EventFold
from bridge.debrief.from_recording import _item_histories
from bridge.debrief.model import DebriefData, FlownPhase
from rules.judge.events import ItemStatus
from rules.packs.load_pack import load_pack

FROM_S, TO_S = 100.0, 200.0


def test_a_criterion_that_was_never_known_is_unknown() -> None:
    """Glide path and localizer of which no data came are criteria all the same; one of them was seen late."""
    pack = load_pack("twin_jet")
    flows = [flow for flow in pack.flows.values() if flow.id.startswith(STABILISED_PREFIX)]
    items = [item for flow in flows for seat in flow.seats.values() for item in seat]
    changes = {
        items[0]: [(FROM_S - 5, ItemStatus.MET)],
        items[1]: [(FROM_S - 5, ItemStatus.OPEN)],
        items[2]: [(FROM_S - 5, ItemStatus.NO_DATA), (FROM_S + 5, ItemStatus.MET)],
    }
    fold = cast(EventFold, SimpleNamespace(findings={}, status_changes=changes))
    histories = tuple(_item_histories(fold, pack, TO_S))
    phases = tuple(
        FlownPhase(flow.phase, flow.phase, "APR", FROM_S, TO_S, 0.0)
        for flow in {flow.phase: flow for flow in flows}.values()
    )
    debrief = cast(DebriefData, SimpleNamespace(item_histories=histories, phases=phases, gates=()))
    criteria = stabilised_criteria(debrief)
    assert [c.met for c in criteria] == [True, False, *[None] * (len(items) - 2)]
    drawn = [item.item for group in flown_flows(debrief) for item in group]
    assert set(drawn) == set(items[:3])
