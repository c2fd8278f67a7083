"""Items: status, verdicts, confirmations and waivers."""

from __future__ import annotations

import pytest

from rules.faults import InputFaults
from rules.judge.events import ItemStatus, Verdict, VerdictChanged
from rules.judge.items import verdict_of
from rules.language import checked_tree as c
from rules.packs.model import Item
from tests.rules.judge.scripted_flight import (
    BEACON,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    events_of,
    item,
    notice_sentences,
    on,
    push,
    replace,
)

BEACON_ON, PUMP_ON = item("beacon", on(BEACON)), item("pump", on(PUMP))
DOCUMENTS = item("documents", None, confirm="Documents on board")


def lives(flight: ScriptedFlight, name: str) -> list[tuple[Verdict, ItemStatus]]:
    """Verdicts and statuses of an item."""
    changes = [e for e in events_of(flight.events, VerdictChanged) if e.item == name]
    return [(e.verdict, e.status) for e in changes]


def test_open_met_lost_met() -> None:
    """An item is open, met, lost and met again, and every step is an event with its sentence."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(2, beacon="on")
    flight.send_frame(5, beacon="off")
    flight.send_frame(8, beacon="on")
    assert lives(flight, BEACON_ON.id) == [
        (Verdict.UNMET, ItemStatus.OPEN),
        (Verdict.MET, ItemStatus.MET),
        (Verdict.UNMET, ItemStatus.LOST),
        (Verdict.MET, ItemStatus.MET),
    ]
    assert all(entry.sentence for entry in events_of(flight.events, VerdictChanged))


def test_an_item_with_a_stale_signal_is_unknown() -> None:
    """An item with a stale signal is unknown, and met again when it comes back."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0, beacon="on")
    flight.send_frames(1, 4)
    del flight.values["beacon"]
    flight.send_frames(5, 9)
    flight.send_frame(10, beacon="on")
    assert lives(flight, BEACON_ON.id)[-2:] == [
        (Verdict.UNKNOWN, ItemStatus.UNKNOWN),
        (Verdict.MET, ItemStatus.MET),
    ]


def test_verdicts_are_in_the_packs_order() -> None:
    """Changes of one sample are recorded in the order of the pack."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON, BEACON_ON]))
    flight.send_frame(0)
    entries = flight.send_frame(1, beacon="on", pump="on")
    assert [e.item for e in events_of(entries, VerdictChanged)] == [PUMP_ON.id, BEACON_ON.id]


def test_confirmed_by_a_seat() -> None:
    """An item without a signal is confirmed by the crew, and the event names the seat."""
    flight = ScriptedFlight(PackBuilder([DOCUMENTS]))
    flight.send_frame(0)
    entries = flight.judge.confirm(DOCUMENTS.id, "first_officer")
    change = events_of(entries, VerdictChanged)[0]
    assert (change.verdict, change.status, change.actual) == (Verdict.MET, ItemStatus.CONFIRMED, "confirmed")
    assert "First officer" in change.sentence


def test_not_confirmed_is_omitted_and_closes_by_confirming() -> None:
    """An item to be confirmed is a need like any other."""
    flight = ScriptedFlight(PackBuilder([DOCUMENTS]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    assert flight.finding_kinds == ["omitted documents"]
    assert notice_sentences(flight.events) == ["Before push back: Documents on board: not confirmed."]
    flight.judge.confirm(DOCUMENTS.id)
    flight.send_frame(3)
    assert flight.judge.findings[0].closed_s == 2


def test_confirmed_before_the_first_frame() -> None:
    """A confirmation before the first frame counts."""
    flight = ScriptedFlight(PackBuilder([DOCUMENTS]))
    assert flight.judge.confirm(DOCUMENTS.id) == []
    flight.send_frame(0)
    assert lives(flight, DOCUMENTS.id) == [(Verdict.MET, ItemStatus.CONFIRMED)]


@pytest.mark.parametrize(
    ("name", "seat", "words"),
    [
        (BEACON_ON.id, "captain", "a signal shows"),
        ("flow.before.beaken", "captain", "did you mean flow.before.beacon?"),
        ("Beacon", "captain", "did you mean flow.before.beacon?"),
        ("flow.taxi.beacon", "captain", "did you mean flow.before.beacon?"),
        ("hydraulics", "captain", "ids have the form flow.FLOW.ITEM"),
        (DOCUMENTS.id, "captan", "did you mean captain?"),
    ],
)
def test_refused_confirmations(name: str, seat: str, words: str) -> None:
    """An item that a signal shows cannot be confirmed; unknown names are refused with a hint."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, DOCUMENTS]))
    flight.send_frame(0)
    with pytest.raises(InputFaults, match="confirm") as caught:
        flight.judge.confirm(name, seat)
    assert words in str(caught.value)
    assert flight.judge.snapshot().items[BEACON_ON.id].verdict is Verdict.UNMET


def test_dispatched_inoperative_is_waived_from_the_start() -> None:
    """An item that the trip sheet waives gives no finding and counts as met for other items."""
    waived = replace(BEACON_ON, waived="dispatched inoperative")
    asking = item("asking", c.ItemMet(waived.id, "beacon"))
    flight = ScriptedFlight(PackBuilder([waived, asking]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(5, speed=3.0)
    assert flight.finding_kinds == []
    assert lives(flight, waived.id) == [(Verdict.UNKNOWN, ItemStatus.WAIVED)]
    assert lives(flight, asking.id) == [(Verdict.MET, ItemStatus.MET)]


def test_waived_by_the_instructor() -> None:
    """The instructor's waiver closes the finding and records the reason."""
    asking = item("asking", c.ItemMet(BEACON_ON.id, "beacon"))
    flight = ScriptedFlight(PackBuilder([BEACON_ON, asking], gates=[push([BEACON_ON.id])]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(3)
    entries = flight.judge.waive(BEACON_ON.id, "instructor", "lamp failed")
    assert flight.judge.findings[0].closed_s == 3
    changes = events_of(entries, VerdictChanged)
    assert [(e.item, e.status) for e in changes] == [
        (BEACON_ON.id, ItemStatus.WAIVED),
        (asking.id, ItemStatus.MET),
    ]
    assert (changes[0].sentence, changes[0].waiver, changes[0].by) == ("waived", "lamp failed", "instructor")
    assert (changes[1].waiver, changes[1].by) == ("", "")
    assert flight.judge.snapshot().items[BEACON_ON.id].waiver == "lamp failed (instructor)"
    explained = flight.judge.explained_snapshot().items[BEACON_ON.id]
    assert explained.sentence == "waived: lamp failed (instructor)"
    flight.send_frames(4, 60)
    assert len(notice_sentences(flight.events)) == 1


@pytest.mark.parametrize(("name", "reason"), [(BEACON_ON.id, "  "), ("flow.before.becon", "why not")])
def test_refused_waives(name: str, reason: str) -> None:
    """A waiver needs an item and a reason."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    with pytest.raises(InputFaults):
        flight.judge.waive(name, "instructor", reason)


def test_a_condition_can_read_another_item() -> None:
    """A condition on another item follows it."""
    asking = item("asking", c.And((c.ItemMet(BEACON_ON.id, "beacon"), c.ItemMet(DOCUMENTS.id, "documents"))))
    flight = ScriptedFlight(PackBuilder([asking, BEACON_ON, DOCUMENTS]))
    flight.send_frame(0, beacon="on")
    assert flight.judge.snapshot().items[asking.id].verdict is Verdict.UNMET
    flight.judge.confirm(DOCUMENTS.id)
    assert flight.judge.snapshot().items[asking.id].verdict is Verdict.MET
    flight.send_frame(1, beacon="off")
    assert flight.judge.snapshot().items[asking.id].verdict is Verdict.UNMET


def test_a_broken_condition_is_shown_with_its_fault(broken: Item) -> None:
    """The sentence of an item with a faulty condition is the fault."""
    flight = ScriptedFlight(PackBuilder([broken]))
    flight.send_frame(0)
    shown = flight.judge.snapshot().items[broken.id]
    assert "unknown name lights.becon" in shown.sentence
    assert shown.verdict is Verdict.UNKNOWN


def test_verdict_of() -> None:
    """Each of the three truth values has its word."""
    assert [verdict_of(truth) for truth in (True, False, None)] == [
        Verdict.MET,
        Verdict.UNMET,
        Verdict.UNKNOWN,
    ]
