"""Phases and gates: cues, entries, unseen entries, skipped gates, and coming back."""

from __future__ import annotations

from rules.judge.events import GateCued, GateEntered, ItemStatus, PhaseEntered, Verdict
from rules.language import checked_tree as c
from rules.packs.model import Gate
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEADING,
    LIGHT,
    TRIP_HEADING,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    events_of,
    go,
    item,
    notice_sentences,
    on,
    push,
    replace,
    same,
)

BEACON_ON = item("beacon", on(BEACON))
BOTH = [push([BEACON_ON.id]), go([BEACON_ON.id])]


def back(needs: tuple[str, ...] = ()) -> Gate:
    """Gate back to the stand, by a light."""
    return Gate("back", "Back", "stand", ("pushing", "rolling"), called("stop"), on(LIGHT), needs)


def test_the_first_phase_is_entered_at_the_first_frame() -> None:
    """The first frame enters the first phase."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    assert events_of(flight.send_frame(3), PhaseEntered) == [PhaseEntered(3, "stand", "")]


def test_cue_then_entry() -> None:
    """A gate is cued, then entered, and the phase changes."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    assert events_of(flight.send_frame(1, ["ready"]), GateCued) == [GateCued(1, "push", 1, 1, 1, 0)]
    entries = flight.send_frame(2, beacon="on", speed=3.0)
    assert events_of(entries, GateEntered) == [GateEntered(2, "push", 0, 1, 1, 0, 0)]
    assert events_of(entries, PhaseEntered) == [PhaseEntered(2, "pushing", "stand")]


def test_a_later_gate_may_be_entered_directly() -> None:
    """Skipped gates are no longer active, and have no findings."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=BOTH))
    flight.send_frame(0, speed=0.0)
    gates = [replace(BOTH[0], entry=on(LIGHT)), BOTH[1]]
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=gates))
    flight.send_frame(0)
    flight.send_frame(5, speed=40.0)
    assert flight.phases == ["stand", "rolling"]
    assert [f.gate for f in flight.judge.findings] == ["go"]
    flight.send_frame(6, ["ready"], light="on")
    assert flight.phases == ["stand", "rolling"]
    assert "push" not in [g.gate for g in events_of(flight.events, GateCued)]


def test_two_entries_in_one_frame_follow_each_other() -> None:
    """If one sample makes two entries true, both gates are entered, in the pack's order."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=BOTH))
    flight.send_frame(0)
    flight.send_frame(5, speed=40.0)
    assert flight.phases == ["stand", "pushing", "rolling"]


def test_an_entry_that_was_never_seen_false_is_recognised() -> None:
    """A bridge that connects in the roll enters that phase without findings."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=BOTH), start=AT_REST | {"speed": 50.0})
    entries = flight.send_frame(100)
    assert flight.phases == ["rolling"]
    assert events_of(entries, GateCued) == []
    assert events_of(entries, GateEntered) == []
    assert flight.judge.findings == []


def test_a_phase_is_recognised_when_its_signal_comes_later() -> None:
    """A first frame without the signal does not turn the second one into an entry."""
    start = {k: v for k, v in AT_REST.items() if k != "speed"}
    flight = ScriptedFlight(PackBuilder([BEACON_ON]), start=start)
    flight.send_frame(0)
    flight.send_frame(1, speed=3.0)
    assert flight.phases == ["stand", "pushing"]
    assert flight.judge.findings == []


def test_an_entry_always_true_does_not_lead_back() -> None:
    """An entry that was always true does not take the flight back to an earlier phase."""
    flight = ScriptedFlight(
        PackBuilder([BEACON_ON], gates=[push([]), back()]), start=AT_REST | {"light": "on"}
    )
    flight.send_frame(0)
    flight.send_frame(5, speed=3.0)
    flight.send_frame(6, heading=20.0)
    assert flight.phases == ["stand", "pushing"]


def test_a_cue_that_cannot_be_reported_stays_as_it_was() -> None:
    """A cue that becomes unknown changes nothing."""
    gate = replace(push([BEACON_ON.id]), cue=above(HEADING, 10))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]))
    flight.send_frame(0)
    flight.send_frame(1, heading=20.0)
    del flight.values["heading"]
    flight.send_frames(2, 8)
    assert flight.judge.snapshot().gates["push"].cued_s == 1
    flight.send_frame(9, heading=20.0)
    assert len(events_of(flight.events, GateCued)) == 1


def test_after_a_return_items_are_not_verified() -> None:
    """After a return the gate is active again, and its items count as never met."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[*BOTH, back()]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(5, speed=3.0)
    flight.send_frame(10, beacon="off")
    assert flight.judge.snapshot().items[BEACON_ON.id].status is ItemStatus.LOST
    flight.send_frame(20, light="on", speed=0.0)
    assert flight.phases == ["stand", "pushing", "stand"]
    flight.send_frame(21, ["ready"])
    flight.send_frame(22)
    assert flight.finding_kinds == ["omitted beacon"]


def test_a_return_clears_confirmations() -> None:
    """Confirmed items must be confirmed again."""
    documents = item("documents", None, confirm="Documents on board")
    flight = ScriptedFlight(PackBuilder([documents], gates=[push([documents.id]), back()]))
    flight.send_frame(0)
    flight.judge.confirm(documents.id, "captain")
    assert flight.judge.snapshot().items[documents.id].status is ItemStatus.CONFIRMED
    flight.send_frame(5, speed=3.0)
    flight.send_frame(20, light="on", speed=0.0)
    assert flight.judge.snapshot().items[documents.id].status is ItemStatus.OPEN


def test_a_return_clears_which_signals_moved() -> None:
    """A value that was moved on the flight before is no wrong value of this one."""
    dial = item("dial", same(HEADING, TRIP_HEADING))
    flight = ScriptedFlight(
        PackBuilder([dial], gates=[push([dial.id]), back()]), sheet={"trip.heading": 140.0}
    )
    flight.send_frame(0)
    flight.send_frame(1, heading=140.0)
    flight.send_frame(5, speed=3.0)
    flight.send_frame(9, heading=20.0)
    flight.send_frame(20, light="on", speed=0.0)
    flight.send_frame(21, ["ready"])
    flight.send_frame(22)
    assert flight.finding_kinds == ["omitted dial"]


def test_a_carried_finding_does_not_hide_a_new_one_after_a_return() -> None:
    """An error that was carried and never corrected is found again after a return."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), back()]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    flight.send_frame(5, speed=3.0)
    flight.send_frame(40, light="on", speed=0.0)
    flight.send_frame(41, ["ready"])
    flight.send_frame(43)
    assert [f.carried for f in flight.judge.findings] == [True, False]
    assert len(notice_sentences(flight.events)) == 2
    flight.send_frame(50, beacon="on")
    flight.send_frame(51)
    assert [f.closed_s for f in flight.judge.findings] == [50, 50]


def test_a_gate_is_not_entered_twice_by_one_entry() -> None:
    """A gate that leaves its own phase is entered again only after its entry was false."""
    own = replace(push([BEACON_ON.id]), leaves=("stand", "pushing"))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[own]))
    flight.send_frame(0)
    flight.send_frame(1, speed=3.0)
    flight.send_frame(2, ["ready"])
    flight.send_frame(3, heading=3.0)
    assert len(events_of(flight.events, GateEntered)) == 1
    assert flight.phases == ["stand", "pushing"]
    flight.send_frame(4, speed=0.0)
    flight.send_frame(5, speed=3.0)
    assert len(events_of(flight.events, GateEntered)) == 2


def test_findings_of_gates_that_were_passed_over_get_no_lead() -> None:
    """A gate that is never entered gives no lead time; its findings are history then."""
    gates = [replace(BOTH[0], entry=on(LIGHT)), replace(BOTH[1], needs=())]
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=gates))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    flight.send_frame(5, speed=40.0)
    finding = flight.judge.findings[0]
    assert (finding.lead_s, finding.carried, finding.closed_s) == (None, False, 5)
    assert not finding.corrected


def test_an_entry_held_for_a_while() -> None:
    """An entry with a hold is true when the hold is over, at the first frame from then on."""
    gate = replace(push([]), entry=c.TimedHistorically(above(HEADING, 10), 3.0))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]))
    flight.send_frame(0)
    flight.send_frame(1, heading=20.0)
    flight.send_frame(3.5)
    assert flight.phases == ["stand"]
    flight.send_frame(4.0)
    assert flight.phases == ["stand", "pushing"]


def test_a_return_clears_calls_of_the_first_round() -> None:
    """A clearance of the first round does not count for the second; an earlier one does."""
    clear = item("clear", called("ground_clear"))
    gate = replace(push([clear.id]), entry=called("cleared"))
    flight = ScriptedFlight(PackBuilder([clear], gates=[gate, back()]))
    flight.send_frame(0, ["ground_clear", "ready"])
    assert flight.judge.snapshot().items[clear.id].verdict is Verdict.MET
    flight.send_frame(5, ["cleared"])
    flight.send_frame(20, light="on")
    assert flight.phases == ["stand", "pushing", "stand"]
    assert flight.judge.snapshot().items[clear.id].verdict is Verdict.UNMET
    assert events_of(flight.send_frame(22), GateCued) == []
    flight.send_frame(30, ["ready"], light="off")
    flight.send_frame(32)
    assert flight.finding_kinds == ["omitted clear"]
    flight.send_frame(40, ["cleared"])
    assert flight.phases[-1] == "pushing"


def test_a_call_in_the_step_of_the_return_counts() -> None:
    """A call in the very step of the return belongs to the new round."""
    clear = item("clear", called("ground_clear"))
    gates = [push([]), replace(back(), entry=called("ground_clear"))]
    flight = ScriptedFlight(PackBuilder([clear], gates=[*gates, replace(go([clear.id]), leaves=("stand",))]))
    flight.send_frame(0)
    flight.send_frame(5, speed=3.0)
    flight.send_frame(6, ["ground_clear"])
    assert flight.phases == ["stand", "pushing", "stand"]
    assert flight.judge.snapshot().items[clear.id].verdict is Verdict.MET


def test_a_return_keeps_calls_made_before_its_phase() -> None:
    """A return to the push back voids the calls made there and later, not those made at the stand."""
    clear, ready = item("clear", called("ground_clear")), item("ready", called("ready"))
    return_gate = Gate("return", "Return", "pushing", ("rolling",), called("stop"), on(LIGHT), ())
    flight = ScriptedFlight(
        PackBuilder([clear, ready], gates=[push([ready.id]), go([clear.id]), return_gate])
    )
    flight.send_frame(0, ["ready"])
    flight.send_frame(5, speed=3.0)
    flight.send_frame(6, ["ground_clear"])
    flight.send_frame(7, speed=40.0)
    flight.send_frame(9, light="on")
    assert flight.phases == ["stand", "pushing", "rolling", "pushing"]
    assert flight.judge.snapshot().items[ready.id].verdict is Verdict.MET
    assert flight.judge.snapshot().items[clear.id].verdict is Verdict.UNMET
