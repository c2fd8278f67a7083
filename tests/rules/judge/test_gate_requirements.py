"""Needs of a cued gate: kinds of findings, holds, clear times, unknown items."""

from __future__ import annotations

import pytest

from rules.judge.events import GateCued, GateEntered, ItemStatus, Notice, VerdictChanged
from rules.language import checked_tree as c
from rules.packs.model import FindingKind, Item, Level, Watch
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEADING,
    LIGHT,
    MODE,
    PROBE,
    PUMP,
    SPEED,
    TRIP_HEADING,
    PackBuilder,
    ScriptedFlight,
    above,
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

BEACON_ON = item("beacon", on(BEACON))
DIAL = item("dial", same(HEADING, TRIP_HEADING))


def cued(*items: Item, **values: str | float) -> ScriptedFlight:
    """A flight with its push-back gate cued at 0 s."""
    flight = ScriptedFlight(PackBuilder(list(items)), start=AT_REST | values, sheet={"trip.heading": 140.0})
    flight.send_frame(0)
    flight.call("ready")
    return flight


def test_a_clean_crew_gets_no_notice() -> None:
    """If everything is met at the cue and stays met, there is no finding and no notice."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(5, beacon="on")
    flight.send_frame(9, ["ready"])
    flight.send_frames(10, 90)
    flight.send_frame(91, speed=3.0)
    assert flight.phases == ["stand", "pushing"]
    assert flight.judge.findings == []
    assert notice_sentences(flight.events) == []


def test_an_unmet_item_is_omitted_after_its_hold() -> None:
    """An unmet item is found after its hold from the cue, however long it was unmet before."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(100, ["ready"])
    assert flight.send_frame(100.9) == []
    finding = opened_findings(flight.send_frame(101.0))[0]
    assert (finding.kind, finding.sim_s, finding.gate) == (FindingKind.OMITTED, 101.0, "push")
    assert (finding.seat, finding.level, finding.phase, finding.why) == (
        "captain",
        Level.CAUTION,
        "stand",
        "why beacon",
    )
    assert finding.actual
    assert finding.wanted


def test_nothing_is_found_before_the_cue() -> None:
    """Without a cue an open item is only open."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frames(0, 60)
    assert flight.judge.findings == []


def test_met_within_the_hold_is_no_finding() -> None:
    """An item that is done within its hold after the cue gives no finding and no notice."""
    flight = cued(BEACON_ON)
    flight.send_frame(0.9, beacon="on")
    flight.send_frames(1, 40)
    assert flight.finding_kinds == []
    assert notice_sentences(flight.events) == []


def test_an_item_met_and_lost_after_the_cue_is_undone() -> None:
    """An item that was met and is lost while its gate is cued is undone."""
    flight = cued(BEACON_ON, beacon="on")
    flight.send_frame(5, beacon="off")
    flight.send_frame(6)
    assert flight.finding_kinds == ["undone beacon"]
    assert events_of(flight.events, VerdictChanged)[-1].status is ItemStatus.LOST
    assert notice_sentences(flight.events)[0].startswith("Check again: ")


def test_an_item_lost_before_the_cue_is_undone() -> None:
    """An item met since the gate became active and lost before its cue is undone too, not omitted."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(5, beacon="off")
    flight.send_frame(9, ["ready"])
    flight.send_frame(10)
    assert flight.finding_kinds == ["undone beacon"]


def test_met_for_a_moment_does_not_count_as_met() -> None:
    """An item met for less than its clear time was never met: a dial that passes the right value."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(5, beacon="on")
    flight.send_frame(5.5, beacon="off")
    flight.send_frame(9, ["ready"])
    flight.send_frame(10)
    assert flight.finding_kinds == ["omitted beacon"]


def test_an_item_met_before_the_gate_was_active_was_never_met() -> None:
    """Memory of having been met begins when the gate becomes active."""
    late_gate = replace(go([BEACON_ON.id]), leaves=("pushing",))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([]), late_gate]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(5, beacon="off")
    flight.send_frame(10, speed=3.0)
    flight.send_frame(11, ["cleared"])
    flight.send_frame(12)
    assert flight.finding_kinds == ["omitted beacon"]


def test_a_wrong_value_needs_a_move() -> None:
    """A signal that moved to a wrong value is a wrong value; one that never moved is omitted."""
    untouched = cued(DIAL)
    untouched.send_frame(1)
    assert untouched.finding_kinds == ["omitted dial"]
    dialled = ScriptedFlight(PackBuilder([DIAL]), sheet={"trip.heading": 140.0})
    dialled.send_frame(0)
    dialled.send_frame(5, heading=41.0)
    dialled.send_frame(9, ["ready"])
    dialled.send_frame(10)
    assert dialled.finding_kinds == ["wrong_value dial"]


def test_wrong_value_needs_the_unmet_part_to_be_the_dialled_one() -> None:
    """If the value is right and a switch is not, it is no wrong value."""
    both = item("both", c.And((same(HEADING, TRIP_HEADING), on(PUMP))))
    flight = ScriptedFlight(PackBuilder([both]), sheet={"trip.heading": 140.0})
    flight.send_frame(0)
    flight.send_frame(5, heading=140.0)
    flight.send_frame(9, ["ready"])
    flight.send_frame(10)
    assert flight.finding_kinds == ["omitted both"]


def test_wrong_word_of_three_is_a_wrong_value() -> None:
    """A selector with three words on the wrong one is a wrong value."""
    flight = ScriptedFlight(PackBuilder([item("mode", c.WordIs(MODE, ("on",)))]))
    flight.send_frame(0)
    flight.send_frame(5, mode="standby")
    flight.send_frame(9, ["ready"])
    flight.send_frame(10)
    assert flight.finding_kinds == ["wrong_value mode"]


def test_the_authors_kind_overrides() -> None:
    """An item's own kind replaces the usual one."""
    flight = ScriptedFlight(
        PackBuilder([replace(DIAL, finding=FindingKind.OMITTED)]), sheet={"trip.heading": 140.0}
    )
    flight.send_frame(0)
    flight.send_frame(5, heading=41.0)
    flight.send_frame(9, ["ready"])
    flight.send_frame(10)
    assert flight.finding_kinds == ["omitted dial"]


def test_an_item_lost_in_the_sample_of_the_entry_is_not_counted_as_open() -> None:
    """Neither at the entry, nor at the cue where that is the entry; one that was open before it is."""
    for cue in (["ready"], []):
        flight = ScriptedFlight(PackBuilder([item("beacon", on(BEACON)), item("probe", on(PROBE))]))
        flight.send_frame(0, beacon="on")
        flight.send_frame(5, cue)
        events = flight.send_frame(9, beacon="off", speed=3.0)
        (entry,) = events_of(events, GateEntered)
        assert (entry.open_items, entry.carried) == (1, 1)
        assert [event.open_items for event in events_of(events, GateCued)] == [1] * (not cue)


def test_an_item_lost_in_the_sample_of_the_entry_counts_as_met() -> None:
    """A change in the same sample as the entry counts in the crew's favour, both ways."""
    flight = cued(BEACON_ON, item("pump", on(PUMP)), beacon="on")
    flight.send_frame(0.5, speed=3.0, beacon="off", pump="on")
    assert flight.phases[-1] == "pushing"
    assert flight.finding_kinds == []


def test_corrected_just_before_the_entry_is_corrected() -> None:
    """A finding whose item is met at the entry closes there, even within its clear time, and is not carried."""
    flight = cued(BEACON_ON)
    flight.send_frame(1)
    flight.send_frame(5, beacon="on")
    flight.send_frame(5.2, speed=3.0)
    finding = flight.judge.findings[0]
    assert (finding.closed_s, finding.carried, finding.lead_s) == (5, False, 4.2)


def test_closing_waits_for_the_clear_time() -> None:
    """A finding closes once its item has been met for its clear time, dated to when it became met."""
    flight = cued(BEACON_ON)
    flight.send_frame(1)
    flight.send_frame(5, beacon="on")
    flight.send_frame(5.5, beacon="off")
    flight.send_frame(9)
    assert [f.closed_s for f in flight.judge.findings] == [None]
    flight.send_frame(10, beacon="on")
    flight.send_frame(11)
    assert [f.closed_s for f in flight.judge.findings] == [10]


def test_without_its_cue_a_gate_gives_no_new_findings() -> None:
    """Without its cue the gate gives no new findings; its findings stay until they are corrected."""
    gate = replace(push([BEACON_ON.id, "flow.before.pump"]), cue=above(HEADING, 10))
    flight = ScriptedFlight(
        PackBuilder([BEACON_ON, item("pump", on(PUMP))], gates=[gate]), start=AT_REST | {"pump": "on"}
    )
    flight.send_frame(0)
    flight.send_frame(1, heading=20.0)
    flight.send_frame(2)
    flight.send_frame(3, heading=0.0)
    flight.send_frame(4, pump="off")
    flight.send_frames(5, 9)
    assert flight.finding_kinds == ["omitted beacon"]
    assert flight.judge.findings[0].closed_s is None
    flight.send_frame(10, heading=20.0)
    flight.send_frame(11)
    assert flight.finding_kinds == ["omitted beacon", "undone pump"]
    flight.send_frame(12, beacon="on")
    flight.send_frame(13)
    assert flight.judge.findings[0].closed_s == 12


def test_an_item_open_at_two_gates_is_one_finding() -> None:
    """An item that two gates need is one finding, with another notice before the second gate."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), go([BEACON_ON.id])]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    flight.send_frame(3, speed=3.0)
    flight.send_frame(44, ["cleared"])
    flight.send_frame(45)
    assert [(f.gate, f.carried, f.lead_s) for f in flight.judge.findings] == [("push", True, 1.0)]
    assert [(n.gate, n.finding, n.repeats) for n in events_of(flight.events, Notice)] == [
        ("push", 1, 0),
        ("go", 1, 1),
    ]
    assert notice_sentences(flight.events)[-1] == "Before take-off, still open: beacon is off."


def test_a_second_gate_soon_after_waits_for_the_back_off() -> None:
    """The notice for a second gate waits for the end of the interval."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), go([BEACON_ON.id])]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(3, speed=3.0)
    flight.send_frame(4, ["cleared"])
    flight.send_frame(31)
    assert [notice.gate for notice in events_of(flight.events, Notice)] == ["push"]
    flight.send_frame(32)
    assert [notice.gate for notice in events_of(flight.events, Notice)] == ["push", "go"]


def test_a_later_gate_does_not_wait_for_a_long_interval() -> None:
    """What is open at a later gate is told there, though its interval has grown beyond the gate."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), go([BEACON_ON.id])]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    flight.send_frame(33)  # told again; the interval is a minute now
    flight.send_frame(60, speed=3.0)
    flight.send_frame(70, ["cleared"])
    flight.send_frame(71)
    assert [(n.gate, n.sim_s) for n in events_of(flight.events, Notice)][1:] == [("push", 32.0), ("go", 71.0)]


def test_two_gates_cued_together_give_one_notice() -> None:
    """When both gates are cued in one step, the item has one finding and one notice, for the first."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), go([BEACON_ON.id])]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready", "cleared"])
    flight.send_frame(2)
    assert len(flight.judge.findings) == 1
    assert [notice.gate for notice in events_of(flight.events, Notice)] == ["push"]


def test_without_entered_calls_items_that_need_one_have_no_data() -> None:
    """Until the first call of any kind, an item that waits for one has no data; from then on it is open."""
    waits = replace(BEACON_ON, id="flow.before.word", condition=c.Once(c.CallEvent("cleared", "cleared")))
    flight = ScriptedFlight(PackBuilder([waits]), calls_entered=False)
    flight.send_frame(0)
    flight.send_frame(3, speed=3.0)
    assert (flight.finding_kinds, flight.phases) == ([], ["stand", "pushing"])
    assert flight.judge.snapshot().items[waits.id].status is ItemStatus.NO_DATA
    flight.call("ready")
    assert flight.judge.snapshot().items[waits.id].status is ItemStatus.OPEN


def test_the_entry_is_by_speed() -> None:
    """The gate used here is entered above 1 kt and not before (a check of the tests' own pack)."""
    assert push([]).entry == above(SPEED, 1)


def test_what_is_true_in_a_moment_is_not_told_at_the_cue() -> None:
    """A light that has just gone off is no error; if it comes on again it is one, and the notice says that fact."""
    held = item("held", c.TimedHistorically(on(BEACON), 2.0))
    flight = ScriptedFlight(PackBuilder([held]))
    flight.send_frame(0, beacon="off")
    flight.send_frame(1, ["ready"], beacon="on")
    flight.send_frame(2.2)
    assert flight.finding_kinds == []
    flight.send_frame(2.5, beacon="off")
    flight.send_frame(4)
    assert flight.finding_kinds == ["omitted held"]
    assert [n.sentence for n in events_of(flight.events, Notice)] == ["Before push back: beacon is off."]


def test_a_long_wait_is_told_at_the_cue() -> None:
    """A crew that is about to go on has to wait longer than a moment: it hears so, with the fact."""
    held = item("held", c.TimedHistorically(on(BEACON), 60.0))
    flight = ScriptedFlight(PackBuilder([held]))
    flight.send_frame(0, beacon="off")
    flight.send_frame(1, ["ready"], beacon="on")
    flight.send_frame(4)
    sentences = [n.sentence for n in events_of(flight.events, Notice)]
    assert sentences == ["Before push back: beacon is on, but only for 1 s."]


@pytest.mark.parametrize("hold_s", [0.0, 2.0])
def test_what_is_only_new_is_looked_at_again_and_not_found(hold_s: float) -> None:
    """The beacon must be on for 2 s and comes on just before its hold ends: the crew can only wait, and the step ends."""
    steady = replace(item("beacon", c.TimedHistorically(on(BEACON), 2.0)), hold_s=hold_s)
    flight = ScriptedFlight(PackBuilder([steady]))
    flight.send_frame(0)
    flight.send_frame(10)
    flight.send_frame(11, beacon="on")
    flight.send_frame(11.5, ["ready"])
    flight.send_frames(12, 30)
    assert opened_findings(flight.events) == []


def test_what_is_new_again_and_again_ends_every_step() -> None:
    """A beacon that flashes is new at each look; no step is endless, and it is found once it stays off."""
    steady = replace(item("beacon", c.TimedHistorically(on(BEACON), 2.0)), hold_s=0.0)
    flight = ScriptedFlight(PackBuilder([steady]))
    flight.send_frame(0, ["ready"], beacon="on")
    for second in range(1, 20):
        flight.send_frame(second, beacon="on" if second % 2 else "off")
    flight.send_frame(20, beacon="off")
    flight.send_frames(21, 25)
    assert len(opened_findings(flight.events)) == 1


TOLD_LAMP = replace(item("lamp", on(PUMP)), told_by=("watch.pump",))


def test_what_a_watch_tells_is_not_found_again() -> None:
    """While a watch on the same fact is open a need opens no finding, at the cue and at the entry; the gate counts it open."""
    watch = Watch("watch.pump", "Pump", "captain", Level.CAUTION, None, on(PUMP))
    flight = ScriptedFlight(PackBuilder([TOLD_LAMP], watches=[watch]))
    flight.send_frame(0)
    flight.send_frame(3, ["ready"])
    flight.send_frames(4, 20)
    flight.send_frame(21, speed=3.0)
    assert flight.finding_kinds == ["limit_exceeded pump"]
    assert events_of(flight.events, GateEntered)[0].open_items == 1


def test_a_need_is_found_once_nothing_else_tells_it() -> None:
    """Where the watch does not apply any more, and the need is still not met, it is found."""
    watch = Watch("watch.pump", "Pump", "captain", Level.CAUTION, on(LIGHT), on(PUMP))
    flight = ScriptedFlight(PackBuilder([TOLD_LAMP], watches=[watch]), start=AT_REST | {"light": "on"})
    flight.send_frame(0)
    flight.send_frame(3, ["ready"])
    flight.send_frame(10, light="off")
    flight.send_frames(11, 14)
    assert flight.finding_kinds == ["limit_exceeded pump", "omitted lamp"]


def test_of_two_needs_with_one_fact_the_named_one_is_found() -> None:
    """A need that another need tells waits for that, whichever comes first in the pack."""
    told = replace(item("first", on(PUMP)), told_by=("flow.before.second",))
    flight = cued(told, item("second", on(PUMP)))
    flight.send_frames(1, 5)
    assert flight.finding_kinds == ["omitted second"]
