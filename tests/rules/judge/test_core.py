"""The core as a whole: calls, silence, resets, the order of entries, the same twice."""

from __future__ import annotations

import pytest

from rules.faults import InputFaults
from rules.judge.core import Core
from rules.judge.entries import (
    CallEntered,
    Entry,
    GateCued,
    Life,
    MonitorsReset,
    Notice,
    PhaseEntered,
    Verdict,
    VerdictChanged,
)
from rules.language import checked as c
from rules.signals.model import Frame, Quality, Sample
from tests.rules.judge.making import (
    AT_REST,
    BEACON,
    HEADING,
    PUMP,
    SHEET,
    Flight,
    Rules,
    Sheet,
    called,
    go,
    item,
    on,
    only,
    opened,
    push,
    replace,
    same,
    told,
)

BEACON_ON, PUMP_ON = item("beacon", on(BEACON)), item("pump", on(PUMP))
CLEARED = item("cleared", called("ground_clear"))


def test_a_call_is_entered_and_judged() -> None:
    """A call stands on the record with who made it, and conditions hear it."""
    flight = Flight(Rules([CLEARED]))
    flight.at(0)
    flight.at(3)
    entries = flight.call("ground_clear")
    assert entries[0] == CallEntered(3, "ground_clear", "captain")
    assert only(entries, VerdictChanged)[0].life is Life.MET


def test_calls_of_a_frame() -> None:
    """Calls that the simulator makes come with the frame; those that the pack does not know are passed over."""
    flight = Flight(Rules([CLEARED]))
    flight.at(0)
    entries = flight.at(3, ["nonsense", "ground_clear"])
    assert only(entries, CallEntered) == [CallEntered(3, "ground_clear", "")]
    assert flight.core.items.states[CLEARED.id].truth is True


def test_an_unknown_call_is_refused_with_a_hint() -> None:
    """A call that the pack does not know is a fault with a hint, and changes nothing."""
    flight = Flight(Rules([CLEARED]))
    flight.at(0)
    with pytest.raises(InputFaults, match="did you mean ground_clear") as caught:
        flight.core.call("ground_cleer")
    assert "unknown call ground_cleer" in str(caught.value)
    assert flight.at(1) == []


def test_a_call_before_the_first_frame_waits_for_it() -> None:
    """A call entered before anything arrived counts from the first frame on."""
    flight = Flight(Rules([CLEARED]))
    assert flight.call("ground_clear") == []
    entries = flight.at(100)
    assert only(entries, CallEntered) == [CallEntered(100, "ground_clear", "captain")]
    assert flight.core.items.states[CLEARED.id].truth is True


def test_silence_makes_unknown_and_recovers_by_itself() -> None:
    """While nothing arrives, items go unknown by the monotonic clock; the simulator's clock stands; then all recovers."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0, beacon="on")
    flight.at(1, ["ready"])
    assert flight.core.tick(3.9) == []
    said = only(flight.core.tick(4.1), VerdictChanged)
    assert [(e.sim_s, e.verdict) for e in said] == [(1, Verdict.UNKNOWN)]
    assert flight.core.tick(60.0) == []
    entries = flight.gap(2.0, 61.0)
    assert [e.verdict for e in only(entries, VerdictChanged)] == [Verdict.MET]
    assert flight.core.findings == []


def test_a_silence_that_the_simulator_flew_through_breaks_what_ran() -> None:
    """What held before a gap is not taken to have held through it."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(2)
    flight.at(3, beacon="on")
    flight.gap(30.0, 30.0)
    assert flight.core.findings[0].closed_s is None
    flight.at(31)
    assert flight.core.findings[0].closed_s == 30


def test_a_tick_before_the_first_frame_says_nothing() -> None:
    """Before anything arrived there is nothing to go out of date."""
    assert Flight(Rules([BEACON_ON])).core.tick(100.0) == []


def test_a_pause_freezes_holds_and_back_offs() -> None:
    """While the simulator's clock stands still, frames go on arriving and nothing becomes due."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(1, ["ready"])
    for recv_s in range(2, 200):
        assert flight.gap(1.0, float(recv_s)) == []


def test_papers_are_read_from_the_trip_sheet() -> None:
    """The trip sheet's values are there from the first frame on and never age."""
    flight = Flight(Rules([item("dial", same(HEADING, SHEET))]), sheet={"trip.heading": 140.0})
    flight.at(0, heading=140.0)
    assert flight.core.items.states["flow.before.dial"].life is Life.MET
    flight.until(1, 30)
    assert flight.core.items.states["flow.before.dial"].life is Life.MET


def test_amended_papers_unverify_what_reads_them() -> None:
    """A changed runway makes the old heading an error that nobody undid; what reads other papers is left alone."""
    dial, beacon = item("dial", same(HEADING, SHEET)), item("beacon", on(BEACON))
    flight = Flight(Rules([dial, beacon]), sheet={"trip.heading": 140.0})
    flight.at(0, heading=0.0, beacon="on")
    flight.at(1, ["ready"], heading=140.0)
    flight.at(9)
    assert flight.kinds == []
    flight._keep(flight.core.amend({"trip.heading": 320.0}))
    flight.at(12)
    assert flight.kinds == ["wrong_value dial"]
    assert flight.core.findings[0].wanted.startswith("320")
    flight.at(13, heading=320.0)
    flight.at(20)
    assert flight.core.findings[0].closed_s == 13


def test_papers_amended_before_the_first_frame_hold() -> None:
    """A sheet may be amended before anything arrives; what is no paper is refused with a hint."""
    flight = Flight(Rules([item("dial", same(HEADING, SHEET))]), sheet={"trip.heading": 140.0})
    assert flight.core.amend({"trip.heading": 320.0}) == []
    flight.at(0, heading=320.0)
    assert flight.core.items.states["flow.before.dial"].life is Life.MET
    with pytest.raises(InputFaults, match=r"did you mean trip\.heading"):
        flight.core.amend({"trip.headin": 1.0})


def test_a_reset_begins_anew() -> None:
    """A jump back is told, memories are forgotten, the first phase is entered, calls are to be made anew."""
    flight = Flight(Rules([BEACON_ON, CLEARED], gates=[push([BEACON_ON.id]), go([])]))
    flight.at(0, beacon="on")
    flight.at(2, ["ground_clear"])
    flight.at(5, speed=3.0)
    entries = flight.jump(1.0, speed=0.0, beacon="off")
    assert entries[0] == MonitorsReset(1.0, 1)
    assert PhaseEntered(1.0, "stand", "pushing") in entries
    assert flight.core.items.states[BEACON_ON.id].life is Life.OPEN
    assert flight.core.items.states[CLEARED.id].truth is False
    flight.at(2, ["ready"])
    flight.at(3)
    assert flight.kinds == ["omitted beacon"]


def test_a_reset_forgets_who_moved_what_and_what_was_due() -> None:
    """What was dialled, what ran and what was told before a reset does not count after it."""
    dial = replace(item("dial", same(HEADING, SHEET)), hold_s=5.0)
    flight = Flight(Rules([dial]), sheet={"trip.heading": 140.0})
    flight.at(0)
    flight.at(1, heading=20.0)
    flight.at(90, ["ready"])
    flight.at(99, heading=140.0)
    flight.at(102, heading=20.0)
    assert len(told(flight.entries)) == 1
    flight.jump(80.0)
    flight.at(81, ["ready"])
    flight.at(85)
    assert flight.kinds == ["wrong_value dial"]
    flight.at(86)
    assert flight.kinds == ["wrong_value dial", "omitted dial"]
    assert len(told(flight.entries)) == 2


def test_a_reset_recognises_where_the_aeroplane_is() -> None:
    """Put into the roll, the flight is there at once, without findings about gates that nobody passed."""
    flight = Flight(Rules([BEACON_ON], gates=[push([BEACON_ON.id]), go([BEACON_ON.id])]))
    flight.at(10)
    entries = flight.jump(5.0, speed=50.0)
    assert [e.phase for e in only(entries, PhaseEntered)] == ["stand", "pushing", "rolling"]
    assert flight.core.findings == []


def test_a_reset_leaves_open_findings_as_they_are() -> None:
    """What was open before a reset stays on the record unmended, and is neither told nor closed any more."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(2)
    before = flight.core.findings[0]
    flight.jump(0.5, beacon="on")
    flight.until(1, 100)
    flight.at(101, speed=3.0)
    assert flight.core.findings == [before]
    assert len(told(flight.entries)) == 1


def test_papers_and_excuses_survive_a_reset_confirmations_do_not() -> None:
    """After a reset the papers and the instructor's excuses hold; the crew confirms anew."""
    papers = item("papers", None, confirm="Papers on board")
    dial = item("dial", same(HEADING, SHEET))
    flight = Flight(Rules([papers, dial, BEACON_ON]), sheet={"trip.heading": 140.0})
    flight.at(0)
    flight.core.confirm(papers.id)
    flight.core.excuse(BEACON_ON.id, "instructor", "lamp failed")
    flight.jump(0.0, heading=140.0)
    states = flight.core.items.states
    assert [states[i].life for i in (papers.id, dial.id, BEACON_ON.id)] == [Life.OPEN, Life.MET, Life.EXCUSED]


def test_an_epoch_that_is_not_nought_at_the_first_frame_is_no_reset() -> None:
    """A bridge that joins after a reset has not seen one."""
    flight = Flight(Rules([BEACON_ON]))
    flight.epoch = 7
    assert only(flight.at(0), MonitorsReset) == []


def test_the_order_of_entries_in_a_step() -> None:
    """Calls, verdicts, cues, findings, entries, phases, notices: in this order."""
    flight = Flight(Rules([BEACON_ON, PUMP_ON]))
    flight.at(0)
    entries = flight.at(5, ["ready"], pump="on", speed=3.0)
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
    """A hold that ends in the very step in which the item is mended finds nothing."""
    flight = Flight(Rules([replace(BEACON_ON, hold_s=2.5)]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(4, beacon="on")
    assert flight.core.findings == []


def test_nothing_new_nothing_said() -> None:
    """A frame that changes no verdict gives no entries."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    assert flight.at(1, heading=3.0) == []


def test_a_still_picture_counts_as_having_been_so() -> None:
    """In a still picture what must have held for a while has held for ever."""
    held = item("held", c.Held(on(BEACON), 20.0))
    changes = tuple(Sample(n, v, Quality.FRESH, 0.0) for n, v in (AT_REST | {"beacon": "on"}).items())
    frame = Frame("still", 0.0, 0.0, 0, tuple(AT_REST), changes)
    lives = []
    for steady in (True, False):
        core = Core(Rules([held]).pack(), Sheet(), steady=steady)
        core.frame(frame)
        lives.append(core.items.states[held.id].life)
    assert lives == [Life.MET, Life.OPEN]


def flown() -> list[Entry]:
    """A flight with something of everything."""
    early = replace(PUMP_ON, after=called("ground_clear"))
    dial = item("dial", same(HEADING, SHEET))
    flight = Flight(
        Rules(
            [BEACON_ON, early, dial, CLEARED],
            gates=[push([BEACON_ON.id, dial.id, early.id]), go([BEACON_ON.id])],
        ),
        sheet={"trip.heading": 140.0},
    )
    flight.at(0)
    flight.at(3, pump="on", heading=20.0)
    flight.at(8, ["ready"])
    flight.at(12, beacon="on")
    flight.at(20, beacon="off")
    flight.call("ground_clear")
    flight.at(60, speed=4.0)
    flight.jump(2.0, speed=0.0)
    flight.at(10, ["ready", "cleared"])
    flight.at(80, speed=40.0)
    return flight.entries


def test_the_same_twice() -> None:
    """The same frames give equal entries, every one."""
    first = flown()
    assert first == flown()
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
    """Entries are in the order of the simulator's time, except where its clock jumped."""
    last_s = 0.0
    for entry in flown():
        if isinstance(entry, MonitorsReset):
            last_s = entry.sim_s
        assert entry.sim_s >= last_s
        last_s = entry.sim_s


def test_the_cue_counts_what_is_open() -> None:
    """The cue says how many needs are open, without those that have no data or are excused."""
    start = {k: v for k, v in AT_REST.items() if k != "pump"}
    excused = replace(item("dial", on(BEACON)), excused="dispatched inoperative")
    flight = Flight(Rules([BEACON_ON, PUMP_ON, excused]), start=start)
    flight.at(0)
    assert only(flight.at(1, ["ready"]), GateCued)[0].open_items == 1
    assert opened(flight.at(2))[0].item == BEACON_ON.id
    assert only(flight.entries, Notice)[0].item == BEACON_ON.id
