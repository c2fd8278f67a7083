"""Needs of a gate that are not known: no data, stale, not observed for long enough, not known at the entry."""

from __future__ import annotations

from rules.judge.events import GateEntered, ItemStatus
from rules.language import checked_tree as c
from rules.packs.model import FindingKind, Item, Level
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    MODE,
    PROBE,
    PackBuilder,
    ScriptedFlight,
    events_of,
    item,
    notice_sentences,
    on,
    opened_findings,
    replace,
)

BEACON_ON = item("beacon", on(BEACON))


def cued(*items: Item, **values: str | float) -> ScriptedFlight:
    """A flight with its push-back gate cued at 0 s."""
    flight = ScriptedFlight(PackBuilder(list(items)), start=AT_REST | values, sheet={"trip.heading": 140.0})
    flight.send_frame(0)
    flight.call("ready")
    return flight


def test_no_data_is_listed_and_never_found() -> None:
    """An item whose signal is never sent has no data: no finding, no notice, not even at the entry."""
    start = {k: v for k, v in AT_REST.items() if k != "probe"}
    flight = ScriptedFlight(PackBuilder([item("probe", on(PROBE)), BEACON_ON]), start=start)
    flight.send_frame(0)
    flight.send_frame(1, ["ready"], beacon="on")
    flight.send_frames(2, 10)
    flight.send_frame(11, speed=3.0)
    assert flight.phases[-1] == "pushing"
    assert flight.finding_kinds == []
    assert flight.judge.snapshot().items["flow.before.probe"].status is ItemStatus.NO_DATA


def test_no_data_becomes_open_when_the_signal_comes() -> None:
    """Once the signal has come, the item counts like any other."""
    start = {k: v for k, v in AT_REST.items() if k != "probe"}
    flight = ScriptedFlight(PackBuilder([item("probe", on(PROBE))]), start=start)
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(5, probe="off")
    assert flight.finding_kinds == []
    flight.send_frame(6)
    assert flight.finding_kinds == ["omitted probe"]


def test_stale_at_the_cue_is_not_verifiable_once() -> None:
    """A stale signal gives one advisory finding, which closes when it comes back."""
    flight = ScriptedFlight(
        PackBuilder([item("probe", on(PROBE), level=Level.WARNING)]), start=AT_REST | {"probe": "on"}
    )
    flight.send_frame(0)
    del flight.values["probe"]
    flight.send_frames(1, 5)
    flight.send_frame(6, ["ready"])
    finding = opened_findings(flight.send_frame(7))[0]
    assert (finding.kind, finding.level) == (FindingKind.NOT_VERIFIABLE, Level.ADVISORY)
    assert "cannot verify probe" in notice_sentences(flight.events)[0]
    flight.send_frames(8, 60)
    assert len(notice_sentences(flight.events)) == 1
    flight.send_frame(61, probe="on")
    flight.send_frame(62)
    assert flight.judge.findings[0].closed_s == 61
    del flight.values["probe"]
    flight.send_frames(63, 80)
    assert len(flight.judge.findings) == 1


def test_an_item_open_after_a_stale_signal_gives_a_new_finding() -> None:
    """When the signal comes back and the item is open, a new finding replaces the unverifiable one."""
    flight = ScriptedFlight(PackBuilder([item("probe", on(PROBE))]))
    flight.send_frame(0)
    del flight.values["probe"]
    flight.send_frames(1, 5)
    flight.send_frame(6, ["ready"])
    flight.send_frame(7)
    flight.send_frame(8, probe="off")
    flight.send_frame(9)
    assert flight.finding_kinds == ["not_verifiable probe", "omitted probe"]
    assert flight.judge.findings[0].closed_s == 8


def test_not_yet_held_long_enough_waits_before_the_entry() -> None:
    """An item that is still unknown is no finding while the gate is cued."""
    flight = cued(item("held", c.TimedHistorically(on(BEACON), 20.0)), beacon="on")
    flight.send_frames(1, 19)
    assert flight.finding_kinds == []
    flight.send_frames(20, 40)
    assert flight.finding_kinds == []


def test_what_is_not_known_at_the_entry_is_a_doubt() -> None:
    """An item that was not observed for long enough may be met: that is no error, and not open."""
    flight = cued(item("held", c.TimedHistorically(on(BEACON), 20.0)), beacon="on")
    flight.send_frames(1, 9)
    assert flight.finding_kinds == []
    events = flight.send_frame(10, speed=3.0)
    assert flight.finding_kinds == ["not_verifiable held"]
    (entry,) = events_of(events, GateEntered)
    assert (entry.open_items, entry.needs, entry.judged, entry.carried) == (0, 1, 0, 0)


def test_a_need_that_was_met_and_is_not_known_is_not_undone() -> None:
    """An item that was met, and whose signal is then not valid, may still be met."""
    flight = cued(BEACON_ON, beacon="on")
    flight.send_frames(1, 5)
    flight.send_frame(6, beacon="nonsense")
    flight.send_frame(7, speed=3.0)
    assert flight.finding_kinds == ["not_verifiable beacon"]


def test_an_error_that_is_not_known_any_more_is_not_repeated_as_a_doubt() -> None:
    """An item with an open error has no second finding, while it is not known if it was corrected."""
    flight = cued(BEACON_ON)
    flight.send_frames(1, 5)
    flight.send_frame(6, beacon="nonsense")
    flight.send_frames(7, 9)
    (entry,) = events_of(flight.send_frame(10, speed=3.0), GateEntered)
    assert flight.finding_kinds == ["omitted beacon"]
    assert (entry.open_items, entry.judged, entry.carried) == (0, 0, 1)


def test_a_gap_restarts_the_hold() -> None:
    """A hold starts again after a time in which the item was unknown."""
    flight = cued(replace(item("mode", c.WordIs(MODE, ("on",))), hold_s=5.0))
    flight.send_frame(3, mode="nonsense")
    flight.send_frame(4, mode="off")
    flight.send_frames(5, 8)
    assert flight.finding_kinds == []
    flight.send_frame(9)
    assert flight.finding_kinds == ["omitted mode"]


def test_a_stale_item_before_its_hold_is_not_verifiable() -> None:
    """An item that was not observed for long enough becomes not verifiable when its signal becomes stale."""
    flight = cued(item("held", c.TimedHistorically(on(BEACON), 20.0)), beacon="on")
    flight.send_frames(1, 3)
    del flight.values["beacon"]
    flight.send_frames(4, 10)
    assert flight.finding_kinds == ["not_verifiable held"]


def test_a_broken_condition_gives_no_finding(broken: Item) -> None:
    """An item with a faulty condition has no data, and gives no finding."""
    flight = cued(broken)
    flight.send_frame(10, speed=3.0)
    assert flight.finding_kinds == []
    assert flight.judge.snapshot().items[broken.id].status is ItemStatus.NO_DATA
