"""Waivers: their events, and an item whose waiver is undone is judged as any other."""

from __future__ import annotations

import pytest

from rules.faults import InputFaults
from rules.judge.events import (
    FindingChanged,
    ItemStatus,
    Notice,
    Verdict,
    VerdictChanged,
    WaiverBegun,
    WaiverUndone,
)
from rules.language import checked_tree as c
from rules.packs.model import FindingKind, Item
from tests.rules.judge.scripted_flight import (
    BEACON,
    LIGHT,
    PROBE,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    called,
    events_of,
    go,
    item,
    on,
    opened_findings,
    push,
    replace,
)

BEACON_ON, PUMP_ON = item("beacon", on(BEACON)), item("pump", on(PUMP))
DOCUMENTS = item("documents", None, confirm="Documents on board")
INOPERATIVE = replace(PUMP_ON, waived="dispatched inoperative")
ORDER = (FindingKind.TOO_EARLY, FindingKind.OUT_OF_ORDER)


def flown(*items: Item, cued_s: float | None = 1) -> ScriptedFlight:
    """A flight with these items at rest, cued for the push back from a time on."""
    flight = ScriptedFlight(PackBuilder(list(items) or [BEACON_ON]))
    flight.send_frame(0)
    if cued_s is not None:
        flight.send_frame(cued_s, ["ready"])
    return flight


def waive(flight: ScriptedFlight, name: str = BEACON_ON.id, reason: str = "lamp failed") -> None:
    """Waive an item."""
    flight.events += flight.judge.waive(name, "instructor", reason)


def undo(flight: ScriptedFlight, name: str = BEACON_ON.id) -> None:
    """Undo a waiver."""
    flight.events += flight.judge.undo_waiver(name, "instructor", "lamp replaced")


def test_events_say_who_why_and_when() -> None:
    """A waiver that begins and one that is undone are events before the verdict that they change."""
    flight = flown()
    flight.send_frame(3)
    begun = flight.judge.waive(BEACON_ON.id, "captain", " lamp failed ")
    assert begun[0] == WaiverBegun(3, BEACON_ON.id, "lamp failed", "captain")
    assert isinstance(begun[1], FindingChanged)
    assert isinstance(begun[2], VerdictChanged)
    assert flight.judge.snapshot().items[BEACON_ON.id].waiver == "lamp failed (Captain)"
    flight.send_frame(8)
    undone = flight.judge.undo_waiver(BEACON_ON.id, "instructor", "lamp replaced")
    assert undone[0] == WaiverUndone(8, BEACON_ON.id, "lamp replaced", "instructor", waived_s=3)
    (verdict,) = events_of(undone, VerdictChanged)
    assert (verdict.status, verdict.waiver, verdict.by) == (ItemStatus.OPEN, "", "")


def test_the_trip_sheet_waives_at_the_first_frame() -> None:
    """What is dispatched inoperative is waived by the trip sheet at the first frame, once, whatever the clock does."""
    flight = flown(BEACON_ON, INOPERATIVE)
    flight.reset_clock(0.0)
    assert events_of(flight.events, WaiverBegun) == [
        WaiverBegun(0, PUMP_ON.id, "dispatched inoperative", "trip sheet")
    ]
    assert isinstance(flight.events[0], WaiverBegun)
    seen = flight.judge.snapshot().items[PUMP_ON.id]
    assert (seen.waiver, seen.waived_by, seen.waived_s) == (
        "dispatched inoperative (trip sheet)",
        "trip sheet",
        0,
    )
    assert not seen.waiver_can_be_undone


def test_a_waiver_by_request_can_be_undone_whoever_made_it() -> None:
    """Not the name of the author decides, but whether the trip sheet waives the item."""
    flight = flown()
    flight.judge.waive(BEACON_ON.id, "trip sheet", "lamp failed")
    assert flight.judge.snapshot().items[BEACON_ON.id].waiver_can_be_undone
    undo(flight)
    seen = flight.judge.snapshot().items[BEACON_ON.id]
    assert (seen.waiver, seen.waived_by, seen.waived_s, seen.waiver_can_be_undone) == ("", "", None, False)


def test_a_waiver_before_the_first_frame_begins_with_it() -> None:
    """A waiver before the first frame begins with it; one that is undone before it leaves nothing."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON]))
    waive(flight)
    waive(flight, PUMP_ON.id)
    assert flight.judge.snapshot().items[BEACON_ON.id].waiver_can_be_undone
    undo(flight, PUMP_ON.id)
    assert flight.events == []
    flight.send_frame(5)
    assert events_of(flight.events, WaiverBegun) == [
        WaiverBegun(5, BEACON_ON.id, "lamp failed", "instructor")
    ]
    statuses = [item.status for item in flight.judge.snapshot().items.values()]
    assert statuses == [ItemStatus.WAIVED, ItemStatus.OPEN]


def test_a_waiver_stays_after_a_jump_of_the_clock() -> None:
    """A waiver lasts through a jump of the clock without another event, and is undone with its own begin."""
    flight = flown()
    waive(flight)
    flight.reset_clock(0.0)
    flight.send_frame(4)
    undo(flight)
    assert [type(e) for e in flight.events if isinstance(e, WaiverBegun | WaiverUndone)] == [
        WaiverBegun,
        WaiverUndone,
    ]
    assert events_of(flight.events, WaiverUndone)[0].waived_s == 1
    assert flight.judge.snapshot().items[BEACON_ON.id].status is ItemStatus.OPEN


def test_an_unmet_need_begins_its_hold_again() -> None:
    """With its gate still cued an unmet need opens a new finding after its hold; the old one stays closed."""
    flight = flown(replace(BEACON_ON, hold_s=5.0))
    flight.send_frame(8)
    waive(flight)
    flight.send_frames(9, 19)
    undo(flight)
    flight.send_frames(20, 23)
    assert len(opened_findings(flight.events)) == 1
    flight.send_frame(24)
    first, second = flight.judge.findings
    assert (first.number, first.closed_s, first.kind) == (1, 8, FindingKind.OMITTED)
    assert (second.number, second.sim_s, second.closed_s, second.gate) == (2, 24, None, "push")
    assert [notice.sim_s for notice in events_of(flight.events, Notice)] == [6, 24]


def test_a_met_item_has_no_finding() -> None:
    """An item that was done while it was waived is met at once, and nothing opens."""
    flight = flown()
    flight.send_frame(5)
    waive(flight)
    flight.send_frame(9, beacon="on")
    undo(flight)
    flight.send_frames(10, 20)
    assert flight.judge.snapshot().items[BEACON_ON.id].status is ItemStatus.MET
    assert [finding.closed_s for finding in flight.judge.findings] == [5]


def test_an_item_that_was_lost_while_waived_is_lost() -> None:
    """The truth goes on being observed: an item that was met before and lost under its waiver is lost."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(5)
    waive(flight)
    flight.send_frame(9, beacon="off")
    flight.send_frame(12, ["ready"])
    undo(flight)
    seen = flight.judge.snapshot().items[BEACON_ON.id]
    assert (seen.status, seen.since_s) == (ItemStatus.LOST, 9)
    flight.send_frame(14)
    assert flight.finding_kinds == ["undone beacon"]


def test_a_carried_finding_opens_again() -> None:
    """A finding that a waiver closed after the entry opens again as a new one at once, carried, and is corrected as any other."""
    flight = flown()
    flight.send_frame(5)
    flight.send_frame(7, speed=3.0)
    waive(flight)
    flight.send_frame(20)
    undo(flight)
    second = flight.judge.findings[1]
    assert (second.sim_s, second.carried, second.lead_s, second.phase) == (20, True, 0.0, "pushing")
    assert [notice.sim_s for notice in events_of(flight.events, Notice)] == [2, 20]
    flight.send_frame(25, beacon="on")
    flight.send_frame(30)
    assert [finding.closed_s for finding in flight.judge.findings] == [7, 25]


def test_a_gate_that_was_passed_under_the_waiver_is_not_judged_again() -> None:
    """Without an earlier finding only the gates ahead count."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), go([BEACON_ON.id])]))
    flight.send_frame(0)
    waive(flight)
    flight.send_frame(5, speed=3.0)
    undo(flight)
    flight.send_frames(6, 10)
    assert flight.judge.findings == []
    flight.send_frame(11, ["cleared"])
    flight.send_frame(13)
    assert [(finding.gate, finding.sim_s) for finding in flight.judge.findings] == [("go", 12)]


@pytest.mark.parametrize("needed_later", [True, False])
def test_an_error_that_is_history_does_not_open_again(*, needed_later: bool) -> None:
    """Where nothing ahead needs the item any more, its finding would have ended under the waiver too."""
    needs = [BEACON_ON.id, PUMP_ON.id]
    flight = ScriptedFlight(
        PackBuilder([BEACON_ON, PUMP_ON], gates=[push(needs), go(needs if needed_later else [PUMP_ON.id])])
    )
    flight.send_frame(0, pump="on")
    flight.send_frame(1, ["ready"])
    flight.send_frame(4, speed=3.0)
    waive(flight)
    flight.send_frame(10, speed=3.0 if needed_later else 40.0)
    undo(flight)
    flight.send_frames(11, 14)
    assert len(flight.judge.findings) == (2 if needed_later else 1)


def test_an_action_against_the_order_that_is_history_is_not_found_again() -> None:
    """An action that was too early is not found again once nothing ahead needs it."""
    early = replace(PUMP_ON, after=called("ground_clear"))
    for moved in (False, True):
        gates = [push([early.id, BEACON_ON.id]), go([BEACON_ON.id])]
        flight = ScriptedFlight(PackBuilder([early, BEACON_ON], gates=gates))
        flight.send_frame(0, beacon="on")
        flight.send_frame(3, pump="on")
        flight.send_frame(5)
        waive(flight, early.id)
        flight.send_frame(8, speed=3.0)
        flight.send_frame(10, speed=40.0 if moved else 3.0)
        undo(flight, early.id)
        flight.send_frames(11, 14)
        assert flight.finding_kinds == ["too_early pump"] * (1 if moved else 2)


def test_an_error_corrected_under_the_waiver_does_not_open_again() -> None:
    """An item of a passed gate that was done and lost again under its waiver opens nothing."""
    flight = flown()
    flight.send_frame(5)
    flight.send_frame(7, speed=3.0)
    waive(flight)
    flight.send_frame(10, beacon="on")
    flight.send_frame(15, beacon="off")
    undo(flight)
    flight.send_frames(16, 20)
    assert len(flight.judge.findings) == 1


def test_an_error_of_an_earlier_round_does_not_open_again() -> None:
    """Where the flight went back before the gate, only its next cue finds the item open."""
    back = replace(push(()), id="back", phase="stand", leaves=("pushing",), cue=on(LIGHT), entry=on(LIGHT))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), back]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(3, speed=5.0)
    waive(flight)
    flight.send_frame(6, speed=0.0, light="on")
    undo(flight)
    flight.send_frames(7, 12)
    assert len(flight.judge.findings) == 1
    flight.send_frame(13, ["ready"])
    flight.send_frame(15)
    assert len(flight.judge.findings) == 2


def test_other_items_follow_its_condition_again() -> None:
    """A condition on the item counts its waiver as met, and its own truth again afterwards."""
    asking = item("asking", c.ItemMet(BEACON_ON.id, "beacon"))
    flight = flown(BEACON_ON, asking, cued_s=None)
    waive(flight)
    assert flight.judge.snapshot().items[asking.id].verdict is Verdict.MET
    undo(flight)
    seen = flight.judge.explained_snapshot().items[asking.id]
    assert seen.verdict is Verdict.UNMET
    assert "waived" not in seen.sentence
    flight.send_frame(4, beacon="on")
    assert flight.judge.snapshot().items[asking.id].verdict is Verdict.MET


def test_an_item_without_a_condition_must_be_confirmed_again_or_not() -> None:
    """A confirmation from before the waiver counts; without one the item is open."""
    flight = flown(DOCUMENTS, replace(DOCUMENTS, id="flow.before.licence"))
    flight.judge.confirm(DOCUMENTS.id)
    for name in (DOCUMENTS.id, "flow.before.licence"):
        waive(flight, name)
        undo(flight, name)
    states = [item.status for item in flight.judge.snapshot().items.values()]
    assert states == [ItemStatus.CONFIRMED, ItemStatus.OPEN]


def test_what_cannot_be_verified_is_reported_again() -> None:
    """A finding that an item cannot be verified opens again too."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON]))
    flight.send_frame(0)
    del flight.values["beacon"]
    flight.send_frame(10, ["ready"])
    flight.send_frame(13)
    waive(flight)
    undo(flight)
    flight.send_frame(16)
    assert [f.kind for f in flight.judge.findings if f.item == BEACON_ON.id] == [
        FindingKind.NOT_VERIFIABLE,
        FindingKind.NOT_VERIFIABLE,
    ]


@pytest.mark.parametrize("at_s", [5, 8])
def test_an_action_too_early_counts_again(at_s: float) -> None:
    """An action that was too early, or within its hold, before the waiver is found after its hold, but only if still so."""
    early = replace(PUMP_ON, after=called("ground_clear"), hold_s=2.0)
    for cleared in (False, True):
        flight = flown(early, cued_s=None)
        flight.send_frame(5, pump="on")
        flight.send_frame(at_s)
        waive(flight, early.id)
        flight.send_frame(10, ["ground_clear"] if cleared else [])
        undo(flight, early.id)
        flight.send_frames(11, 14)
        opened = [(f.kind, f.sim_s) for f in flight.judge.findings if f.sim_s > at_s]
        assert opened == ([] if cleared else [(FindingKind.TOO_EARLY, 12)])


def test_an_action_in_order_is_not_found_later() -> None:
    """What was done in order is no error after the waiver, though its prerequisite is gone."""
    early = replace(PUMP_ON, after=on(LIGHT))
    flight = flown(early, cued_s=None)
    flight.send_frame(3, light="on")
    flight.send_frame(5, pump="on")
    flight.send_frame(6, light="off")
    waive(flight, early.id)
    undo(flight, early.id)
    flight.send_frames(7, 12)
    assert flight.judge.findings == []


def test_what_follows_a_waived_item_is_found_again() -> None:
    """Out of order is suspended by the waiver of what comes first, and found again after it, unless that was done."""
    probe = item("probe", on(PROBE))
    follower = replace(BEACON_ON, follows=(probe.id,))
    for done in (False, True):
        flight = flown(probe, follower, cued_s=None)
        flight.send_frame(5, beacon="on")
        flight.send_frame(8)
        waive(flight, probe.id)
        assert flight.judge.findings[0].closed_s == 8
        flight.send_frame(10, probe="on" if done else "off")
        flight.send_frame(11, probe="off")
        undo(flight, probe.id)
        flight.send_frames(12, 15)
        assert flight.finding_kinds == ["out_of_order beacon"] * (1 if done else 2)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("flow.before.becon", "unknown item flow.before.becon"),
        (BEACON_ON.id, "flow.before.beacon is not waived"),
        (PUMP_ON.id, "waived by the trip sheet: dispatched inoperative"),
    ],
)
def test_refused_undos(name: str, words: str) -> None:
    """Only what was waived by request can be undone; a refusal says why, and changes nothing."""
    flight = flown(BEACON_ON, INOPERATIVE, DOCUMENTS)
    waive(flight, DOCUMENTS.id)
    before = flight.judge.snapshot()
    with pytest.raises(InputFaults) as refused:
        flight.judge.undo_waiver(name, "instructor")
    assert words in str(refused.value)
    assert flight.judge.snapshot() is before


def test_a_waived_item_is_not_waived_again() -> None:
    """A second waiver is refused with the first one's reason; so is one of what the trip sheet waives."""
    flight = flown(BEACON_ON, INOPERATIVE)
    waive(flight)
    for name, reason in (
        (BEACON_ON.id, r"lamp failed \(instructor\)"),
        (PUMP_ON.id, r"inoperative \(trip sheet\)"),
    ):
        with pytest.raises(InputFaults, match=reason):
            flight.judge.waive(name, "captain", "another reason")
    assert flight.judge.snapshot().items[BEACON_ON.id].waived_by == "instructor"
