"""The finding log over the entry of a gate: lead time, carried, late."""

from __future__ import annotations

from rules.judge.events import FindingChanged, FindingOpened, GateEntered
from rules.packs.model import FindingKind
from tests.rules.judge.scripted_flight import (
    BEACON,
    HEADING,
    PUMP,
    TRIP_HEADING,
    PackBuilder,
    ScriptedFlight,
    changed_findings,
    events_of,
    item,
    on,
    opened_findings,
    replace,
    same,
)

BEACON_ON, PUMP_ON = item("beacon", on(BEACON)), item("pump", on(PUMP))


def test_numbers_count_from_one_and_the_record_is_the_entries() -> None:
    """Findings are numbered in order, and the log has the last version of each."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    flight.send_frame(3, pump="on")
    flight.send_frames(4, 6)
    flight.send_frame(7, speed=3.0)
    last = {}
    for entry in flight.events:
        if isinstance(entry, FindingOpened | FindingChanged):
            last[entry.finding.number] = entry.finding
    assert list(last) == [1, 2]
    assert list(last.values()) == flight.judge.findings


def test_findings_of_a_gate_get_their_lead_time_at_the_entry() -> None:
    """At the entry each finding of the gate gets its lead time, also the corrected ones; only open ones are carried."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    flight.send_frame(3, pump="on")
    flight.send_frames(4, 6)
    entries = flight.send_frame(7, speed=3.0)
    assert [(f.item[-4:], f.lead_s, f.carried, f.closed_s) for f in changed_findings(entries)] == [
        ("acon", 5.0, True, None),
        ("pump", 5.0, False, 3),
    ]
    assert events_of(entries, GateEntered)[0].carried == 1


def test_a_carried_finding_keeps_its_kind_when_corrected() -> None:
    """A finding with a notice before the entry and a correction after it keeps its kind."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    flight.send_frame(7, speed=3.0)
    flight.send_frame(10, beacon="on")
    flight.send_frame(11)
    finding = flight.judge.findings[0]
    assert (finding.kind, finding.carried, finding.closed_s) == (FindingKind.OMITTED, True, 10)


def test_entered_without_a_cue_opens_at_once() -> None:
    """A gate that is entered without a cue is cued at its entry: findings open at once, without lead time."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    entries = flight.send_frame(5, speed=3.0)
    finding = opened_findings(entries)[0]
    assert (finding.kind, finding.lead_s, finding.carried) == (FindingKind.OMITTED, 0.0, True)
    assert [type(entry).__name__ for entry in entries] == [
        "GateCued",
        "FindingOpened",
        "GateEntered",
        "PhaseEntered",
        "Notice",
    ]


def test_an_omission_without_a_notice_before_the_entry_becomes_late() -> None:
    """An omission that opened at the entry becomes late when the item is done in the phase."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(5, speed=3.0)
    flight.send_frame(9, beacon="on")
    flight.send_frame(10)
    finding = flight.judge.findings[0]
    assert (finding.kind, finding.sim_s, finding.closed_s) == (FindingKind.LATE, 5, 9)


def test_an_item_within_its_hold_at_the_entry_becomes_late() -> None:
    """A need that was still within its hold at the entry had no notice either."""
    flight = ScriptedFlight(PackBuilder([replace(BEACON_ON, hold_s=5.0)]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(3, speed=3.0)
    flight.send_frame(9, beacon="on")
    flight.send_frame(10)
    assert flight.finding_kinds == ["late beacon"]


def test_undone_and_wrong_value_do_not_turn_late() -> None:
    """Only an omission becomes late; undone, wrong value and an author's own kind stay."""
    dial = item("dial", same(HEADING, TRIP_HEADING))
    fixed = replace(item("fixed", on(PUMP)), finding=FindingKind.OMITTED)
    flight = ScriptedFlight(PackBuilder([BEACON_ON, dial, fixed]), sheet={"trip.heading": 140.0})
    flight.send_frame(0, beacon="on", heading=20.0)
    flight.send_frame(3, beacon="off", heading=30.0)
    flight.send_frame(5, speed=3.0)
    flight.send_frame(9, beacon="on", heading=140.0, pump="on")
    flight.send_frame(10)
    assert flight.finding_kinds == ["undone beacon", "wrong_value dial", "omitted fixed"]
    assert [f.closed_s for f in flight.judge.findings] == [9, 9, 9]


def test_waived_after_the_entry_is_not_late() -> None:
    """The finding of a waived item closes without a correction."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(5, speed=3.0)
    flight.judge.waive(BEACON_ON.id, "instructor", "lamp failed by the scenario")
    assert flight.finding_kinds == ["omitted beacon"]
    assert flight.judge.findings[0].closed_s == 5
