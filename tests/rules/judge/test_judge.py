"""The whole judge: calls, gaps, resets, the order of events, repeatability."""

from __future__ import annotations

import pytest

from rules.faults import InputFaults
from rules.judge.events import (
    CallEntered,
    GateCued,
    ItemStatus,
    JudgeEvent,
    MonitorsReset,
    Notice,
    PhaseEntered,
    Verdict,
    VerdictChanged,
)
from rules.judge.judge import Judge
from rules.language import checked_tree as c
from rules.signals.model import Frame, Quality, Sample
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEADING,
    PUMP,
    TRIP_HEADING,
    FixedTripValues,
    PackBuilder,
    ScriptedFlight,
    called,
    events_of,
    go,
    item,
    notice_sentences,
    on,
    opened_findings,
    push,
    replace,
    same,
)

BEACON_ON, PUMP_ON = item("beacon", on(BEACON)), item("pump", on(PUMP))
CLEARED = item("cleared", called("ground_clear"))


def test_a_call_is_entered_and_judged() -> None:
    """A call is an event with who entered it, and conditions use it."""
    flight = ScriptedFlight(PackBuilder([CLEARED]))
    flight.send_frame(0)
    flight.send_frame(3)
    entries = flight.call("ground_clear")
    assert entries[0] == CallEntered(3, "ground_clear", "captain")
    assert events_of(entries, VerdictChanged)[0].status is ItemStatus.MET


def test_calls_of_a_frame() -> None:
    """Calls of the simulator come with the frame; unknown ones are ignored."""
    flight = ScriptedFlight(PackBuilder([CLEARED]))
    flight.send_frame(0)
    entries = flight.send_frame(3, ["nonsense", "ground_clear"])
    assert events_of(entries, CallEntered) == [CallEntered(3, "ground_clear", "")]
    assert flight.judge.snapshot().items[CLEARED.id].verdict is Verdict.MET


def test_an_unknown_call_is_refused_with_a_hint() -> None:
    """A call that the pack does not know is a fault with a hint, and changes nothing."""
    flight = ScriptedFlight(PackBuilder([CLEARED]))
    flight.send_frame(0)
    with pytest.raises(InputFaults, match="did you mean ground_clear") as caught:
        flight.judge.enter_call("ground_cleer")
    assert "unknown call ground_cleer" in str(caught.value)
    assert flight.send_frame(1) == []


def test_a_call_before_the_first_frame_waits_for_it() -> None:
    """A call entered before the first frame counts from that frame on."""
    flight = ScriptedFlight(PackBuilder([CLEARED]))
    assert flight.call("ground_clear") == []
    entries = flight.send_frame(100)
    assert events_of(entries, CallEntered) == [CallEntered(100, "ground_clear", "captain")]
    assert flight.judge.snapshot().items[CLEARED.id].verdict is Verdict.MET


def test_items_are_unknown_in_silence_and_recover() -> None:
    """Without frames items become unknown by the monotonic clock, and recover with the next frames."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(1, ["ready"])
    assert flight.judge.tick(3.9) == []
    changes = events_of(flight.judge.tick(4.1), VerdictChanged)
    assert [(e.sim_s, e.verdict) for e in changes] == [(1, Verdict.UNKNOWN)]
    assert flight.judge.tick(60.0) == []
    entries = flight.send_after_silence(2.0, 61.0)
    assert [e.verdict for e in events_of(entries, VerdictChanged)] == [Verdict.MET]
    assert flight.judge.findings == []


def test_a_stall_leaves_no_trace_in_what_looks_back() -> None:
    """After a silence in which no simulated time passed a duration goes on, and the next gate is judged."""
    held = item("held", c.TimedHistorically(on(BEACON), 20.0))
    flight = ScriptedFlight(PackBuilder([held]))
    flight.send_frame(0, beacon="off")
    flight.send_frame(1, beacon="on")
    flight.send_frame(15, ["ready"])
    flight.judge.tick(40.0)
    assert flight.judge.snapshot().samples[BEACON.name].quality is Quality.STALE
    flight.send_after_silence(15.5, 50.0)
    assert flight.judge.snapshot().items[held.id].verdict is Verdict.UNMET
    for sim_s in (18.0, 20.9):
        flight.send_after_silence(sim_s, 35.0 + sim_s)
    assert flight.finding_kinds == ["omitted held"]
    flight.send_after_silence(21.0, 56.0)
    assert flight.judge.snapshot().items[held.id].verdict is Verdict.MET


def test_a_silence_in_which_simulated_time_passed_is_no_stall() -> None:
    """A signal that is carried again after it was stale breaks what looks back."""
    held = item("held", c.TimedHistorically(on(BEACON), 5.0))
    flight = ScriptedFlight(PackBuilder([held]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(6)
    flight.send_after_silence(30.0, 30.0)
    assert flight.judge.snapshot().items[held.id].verdict is Verdict.UNKNOWN


def test_a_gap_in_the_data_interrupts_a_hold() -> None:
    """A condition that held before a gap does not count as held through it."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    flight.send_frame(3, beacon="on")
    flight.send_after_silence(30.0, 30.0)
    assert flight.judge.findings[0].closed_s is None
    flight.send_frame(31)
    assert flight.judge.findings[0].closed_s == 30


def test_a_tick_before_the_first_frame_gives_no_event() -> None:
    """Before the first frame nothing can become stale."""
    assert ScriptedFlight(PackBuilder([BEACON_ON])).judge.tick(100.0) == []


def test_a_pause_freezes_holds_and_back_offs() -> None:
    """While the simulator clock is stopped and frames arrive, no timer becomes due."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    for recv_s in range(2, 200):
        assert flight.send_after_silence(1.0, float(recv_s)) == []


def test_trip_values_are_read_from_the_trip_sheet() -> None:
    """The trip values are known from the first frame on and never age."""
    flight = ScriptedFlight(
        PackBuilder([item("dial", same(HEADING, TRIP_HEADING))]), sheet={"trip.heading": 140.0}
    )
    flight.send_frame(0, heading=140.0)
    assert flight.judge.snapshot().items["flow.before.dial"].status is ItemStatus.MET
    flight.send_frames(1, 30)
    assert flight.judge.snapshot().items["flow.before.dial"].status is ItemStatus.MET


def test_items_that_read_an_amended_trip_value_are_not_verified() -> None:
    """A changed runway makes the old heading an omission; items that read other trip values stay."""
    dial, beacon = item("dial", same(HEADING, TRIP_HEADING)), item("beacon", on(BEACON))
    flight = ScriptedFlight(PackBuilder([dial, beacon]), sheet={"trip.heading": 140.0})
    flight.send_frame(0, heading=0.0, beacon="on")
    flight.send_frame(1, ["ready"], heading=140.0)
    flight.send_frame(9)
    assert flight.finding_kinds == []
    flight._record(flight.judge.update_trip({"trip.heading": 320.0}))
    flight.send_frame(12)
    assert flight.finding_kinds == ["wrong_value dial"]
    assert flight.judge.findings[0].wanted.startswith("320")
    flight.send_frame(13, heading=320.0)
    flight.send_frame(20)
    assert flight.judge.findings[0].closed_s == 13


def test_trip_values_can_be_amended_before_the_first_frame() -> None:
    """A trip sheet may be updated before the first frame; other signals are refused with a hint."""
    flight = ScriptedFlight(
        PackBuilder([item("dial", same(HEADING, TRIP_HEADING))]), sheet={"trip.heading": 140.0}
    )
    assert flight.judge.update_trip({"trip.heading": 320.0}) == []
    flight.send_frame(0, heading=320.0)
    assert flight.judge.snapshot().items["flow.before.dial"].status is ItemStatus.MET
    with pytest.raises(InputFaults, match=r"did you mean trip\.heading"):
        flight.judge.update_trip({"trip.headin": 1.0})


def test_a_reset_starts_from_the_first_phase() -> None:
    """A jump back is an event; memories and calls are void, and the first phase is entered."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, CLEARED], gates=[push([BEACON_ON.id]), go([])]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(2, ["ground_clear"])
    flight.send_frame(5, speed=3.0)
    entries = flight.reset_clock(1.0, speed=0.0, beacon="off")
    assert entries[0] == MonitorsReset(1.0, 1)
    assert PhaseEntered(1.0, "stand", "pushing") in entries
    assert flight.judge.snapshot().items[BEACON_ON.id].status is ItemStatus.OPEN
    assert flight.judge.snapshot().items[CLEARED.id].verdict is Verdict.UNMET
    flight.send_frame(2, ["ready"])
    flight.send_frame(3)
    assert flight.finding_kinds == ["omitted beacon"]


def test_a_reset_clears_moves_timers_and_notices() -> None:
    """Moves, timers and notices from before a reset do not count after it."""
    dial = replace(item("dial", same(HEADING, TRIP_HEADING)), hold_s=5.0)
    flight = ScriptedFlight(PackBuilder([dial]), sheet={"trip.heading": 140.0})
    flight.send_frame(0)
    flight.send_frame(1, heading=20.0)
    flight.send_frame(90, ["ready"])
    flight.send_frame(99, heading=140.0)
    flight.send_frame(102, heading=20.0)
    assert len(notice_sentences(flight.events)) == 1
    flight.reset_clock(80.0)
    flight.send_frame(81, ["ready"])
    flight.send_frame(85)
    assert flight.finding_kinds == ["wrong_value dial"]
    flight.send_frame(86)
    assert flight.finding_kinds == ["wrong_value dial", "omitted dial"]
    assert len(notice_sentences(flight.events)) == 2


def test_a_reset_recognises_where_the_aeroplane_is() -> None:
    """Repositioned into the roll, the flight has that phase at once, without findings of skipped gates."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), go([BEACON_ON.id])]))
    flight.send_frame(10)
    entries = flight.reset_clock(5.0, speed=50.0)
    assert [e.phase for e in events_of(entries, PhaseEntered)] == ["rolling"]
    assert flight.judge.findings == []


def test_a_reset_leaves_open_findings_as_they_are() -> None:
    """Findings that were open before a reset stay open, without notices."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    before = flight.judge.findings[0]
    flight.reset_clock(0.5, beacon="on")
    flight.send_frames(1, 100)
    flight.send_frame(101, speed=3.0)
    assert flight.judge.findings == [before]
    assert len(notice_sentences(flight.events)) == 1


def test_trip_values_and_waives_survive_a_reset_confirmations_do_not() -> None:
    """After a reset trip values and waivers stay; the crew must confirm again."""
    documents = item("documents", None, confirm="Documents on board")
    dial = item("dial", same(HEADING, TRIP_HEADING))
    flight = ScriptedFlight(PackBuilder([documents, dial, BEACON_ON]), sheet={"trip.heading": 140.0})
    flight.send_frame(0)
    flight.judge.confirm(documents.id)
    flight.judge.waive(BEACON_ON.id, "instructor", "lamp failed")
    flight.reset_clock(0.0, heading=140.0)
    states = flight.judge.snapshot().items
    assert [states[i].status for i in (documents.id, dial.id, BEACON_ON.id)] == [
        ItemStatus.OPEN,
        ItemStatus.MET,
        ItemStatus.WAIVED,
    ]


def test_a_first_frame_in_a_later_epoch_is_not_a_reset() -> None:
    """A bridge that connects after a reset does not report one."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.epoch = 7
    assert events_of(flight.send_frame(0), MonitorsReset) == []


def test_the_order_of_entries_in_a_step() -> None:
    """Calls, verdicts, cues, findings, entries, phases, notices: in this order."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON]))
    flight.send_frame(0)
    entries = flight.send_frame(5, ["ready"], pump="on", speed=3.0)
    assert [type(entry).__name__ for entry in entries] == [
        "CallEntered",
        "VerdictChanged",
        "GateCued",
        "FindingOpened",
        "GateEntered",
        "PhaseEntered",
        "Notice",
    ]


def test_verdicts_come_before_timers() -> None:
    """A hold that ends in the step in which the item is corrected opens no finding."""
    flight = ScriptedFlight(PackBuilder([replace(BEACON_ON, hold_s=2.5)]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(4, beacon="on")
    assert flight.judge.findings == []


def test_a_frame_without_changes_gives_no_events() -> None:
    """A frame that changes no verdict gives no events."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    assert flight.send_frame(1, heading=3.0) == []


def test_a_static_state_counts_as_held() -> None:
    """In a static state a condition with a duration counts as held for long enough."""
    held = item("held", c.TimedHistorically(on(BEACON), 20.0))
    changes = tuple(Sample(n, v, Quality.FRESH, 0.0) for n, v in (AT_REST | {"beacon": "on"}).items())
    frame = Frame("still", 0.0, 0.0, 0, tuple(AT_REST), changes)
    lives = []
    for steady in (True, False):
        judge = Judge(PackBuilder([held]).pack(), FixedTripValues(), steady=steady)
        judge.judge_frame(frame)
        lives.append(judge.snapshot().items[held.id].status)
    assert lives == [ItemStatus.MET, ItemStatus.UNKNOWN]


def recorded_flight() -> list[JudgeEvent]:
    """A flight with some events of every kind."""
    early = replace(PUMP_ON, after=called("ground_clear"))
    dial = item("dial", same(HEADING, TRIP_HEADING))
    flight = ScriptedFlight(
        PackBuilder(
            [BEACON_ON, early, dial, CLEARED],
            gates=[push([BEACON_ON.id, dial.id, early.id]), go([BEACON_ON.id])],
        ),
        sheet={"trip.heading": 140.0},
    )
    flight.send_frame(0)
    flight.send_frame(3, pump="on", heading=20.0)
    flight.send_frame(8, ["ready"])
    flight.send_frame(12, beacon="on")
    flight.send_frame(20, beacon="off")
    flight.call("ground_clear")
    flight.send_frame(60, speed=4.0)
    flight.reset_clock(2.0, speed=0.0)
    flight.send_frame(10, ["ready", "cleared"])
    flight.send_frame(80, speed=40.0)
    return flight.events


def test_the_same_frames_give_equal_events() -> None:
    """The same frames give equal events."""
    first = recorded_flight()
    assert first == recorded_flight()
    assert {type(entry).__name__ for entry in first} == {
        "PhaseEntered",
        "GateCued",
        "GateEntered",
        "VerdictChanged",
        "FindingOpened",
        "FindingChanged",
        "Notice",
        "CallEntered",
        "MonitorsReset",
    }


def test_entries_never_go_back_in_time_but_at_a_reset() -> None:
    """Events are in the order of the simulator's time, except at a jump of its clock."""
    last_s = 0.0
    for entry in recorded_flight():
        if isinstance(entry, MonitorsReset):
            last_s = entry.sim_s
        assert entry.sim_s >= last_s
        last_s = entry.sim_s


def test_the_cue_has_the_number_of_open_needs() -> None:
    """The cue has the number of open needs, without those that have no data or are waived."""
    start = {k: v for k, v in AT_REST.items() if k != "pump"}
    waived = replace(item("dial", on(BEACON)), waived="dispatched inoperative")
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON, waived]), start=start)
    flight.send_frame(0)
    assert events_of(flight.send_frame(1, ["ready"]), GateCued)[0].open_items == 1
    assert opened_findings(flight.send_frame(2))[0].item == BEACON_ON.id
    assert events_of(flight.events, Notice)[0].item == BEACON_ON.id
