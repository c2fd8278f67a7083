"""Findings that are history: nothing that is ahead needs their item any more."""

from __future__ import annotations

import pytest

from rules.judge.events import Finding, FindingChanged, PhaseEntered
from rules.packs.model import Gate
from tests.rules.judge.scripted_flight import (
    BEACON,
    LIGHT,
    PROBE,
    PackBuilder,
    ScriptedFlight,
    called,
    go,
    item,
    notice_sentences,
    on,
    push,
    replace,
)

BEACON_ON, PROBE_ON = item("beacon", on(BEACON)), item("probe", on(PROBE))


def back(needs: tuple[str, ...] = ()) -> Gate:
    """Gate back to the stand, by a light."""
    return Gate("back", "Back", "stand", ("pushing", "rolling"), called("stop"), on(LIGHT), needs)


def pushed(gates: list[Gate]) -> ScriptedFlight:
    """A flight in the push back, with the beacon off since before it."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PROBE_ON], gates=gates))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(4, speed=3.0)
    assert flight.finding_kinds == ["omitted beacon"]
    return flight


def only(flight: ScriptedFlight) -> Finding:
    """Its only finding."""
    (found,) = flight.judge.findings
    return found


def test_it_is_open_while_its_phase_lasts() -> None:
    """In the push back the beacon still matters; in the roll it does not, and it was not corrected."""
    flight = pushed([push([BEACON_ON.id]), go([PROBE_ON.id])])
    flight.send_frames(5, 9)
    assert only(flight).closed_s is None
    flight.send_frame(10, probe="on", speed=40.0)
    assert (only(flight).closed_s, only(flight).corrected) == (10, False)
    assert flight.judge.snapshot().open_findings == ()
    assert flight.judge.snapshot().gates["push"].other_findings == 0


def test_the_record_says_so_after_the_phase() -> None:
    """The phase is entered first, then the finding ends."""
    flight = pushed([push([BEACON_ON.id]), go([PROBE_ON.id])])
    events = flight.send_frame(10, probe="on", speed=40.0)
    kinds = [type(event) for event in events if isinstance(event, PhaseEntered | FindingChanged)]
    assert kinds == [PhaseEntered, FindingChanged]


def test_nobody_is_told_of_it_any_more() -> None:
    """It is corrected later, or never: neither is a notice, and its kind stays."""
    flight = pushed([push([BEACON_ON.id]), go([PROBE_ON.id])])
    flight.send_frame(10, probe="on", speed=40.0)
    told = len(notice_sentences(flight.events))
    flight.send_frames(11, 200)
    flight.send_frame(201, beacon="on")
    flight.send_frames(202, 210)
    assert len(notice_sentences(flight.events)) == told
    assert (only(flight).kind, only(flight).closed_s, only(flight).corrected) == ("omitted", 10, False)


def test_a_gate_ahead_keeps_it_open() -> None:
    """The take-off needs the beacon as well: it is still to do, until the roll is over."""
    flight = pushed([push([BEACON_ON.id]), go([BEACON_ON.id])])
    flight.send_frame(10, speed=3.0)
    assert only(flight).closed_s is None
    flight.send_frame(20, beacon="on")
    flight.send_frames(21, 24)
    assert (only(flight).closed_s, only(flight).corrected) == (20, True)


def test_a_gate_that_leads_back_keeps_it_open() -> None:
    """The way back to the stand needs the beacon and can be taken now."""
    flight = pushed([push([BEACON_ON.id]), go([]), back((BEACON_ON.id,))])
    flight.send_frame(10, speed=40.0)
    assert only(flight).closed_s is None


def test_a_gate_that_was_passed_over_asks_for_nothing() -> None:
    """Cued and warned, but the aeroplane rolled at once."""
    gates = [replace(push([BEACON_ON.id]), entry=on(LIGHT)), go([])]
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=gates))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(4)
    assert only(flight).closed_s is None
    flight.send_frame(10, speed=40.0)
    assert (only(flight).closed_s, only(flight).corrected, only(flight).carried) == (10, False, False)


def test_after_a_return_it_is_an_error_again() -> None:
    """The second round has its own finding."""
    flight = pushed([push([BEACON_ON.id]), go([]), back()])
    flight.send_frame(10, speed=40.0)
    flight.send_frame(20, speed=0.0, light="on")
    flight.send_frame(30, light="off")
    flight.send_frame(40, ["ready"])
    flight.send_frames(41, 45)
    assert flight.finding_kinds == ["omitted beacon", "omitted beacon"]
    assert [f.closed_s for f in flight.judge.findings] == [10, None]


def test_an_action_out_of_order_is_history_too() -> None:
    """The probe came before the beacon, and stayed so."""
    probe = replace(PROBE_ON, follows=(BEACON_ON.id,), hold_s=0.0)
    rules = PackBuilder([BEACON_ON, probe], gates=[push([probe.id]), go([])])
    flight = ScriptedFlight(rules)
    flight.send_frame(0)
    flight.send_frame(2, probe="on")
    assert flight.finding_kinds == ["out_of_order probe"]
    flight.send_frame(5, speed=3.0)
    assert only(flight).closed_s is None
    flight.send_frame(9, speed=40.0)
    assert (only(flight).closed_s, only(flight).corrected) == (9, False)


def test_an_item_that_no_gate_needs_stays_as_it_is() -> None:
    """Its order matters in itself."""
    probe = replace(PROBE_ON, follows=(BEACON_ON.id,), hold_s=0.0)
    flight = ScriptedFlight(PackBuilder([BEACON_ON, probe], gates=[push([]), go([])]))
    flight.send_frame(0)
    flight.send_frame(2, probe="on")
    flight.send_frame(9, speed=40.0)
    assert only(flight).closed_s is None


def test_what_could_not_be_verified_stays_a_doubt() -> None:
    """A doubt that ends with its phase was not resolved."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), go([])]))
    flight.send_frame(0)
    del flight.values["beacon"]
    flight.send_frames(1, 9)
    flight.send_frame(10, ["ready"])
    flight.send_frame(12, speed=40.0)
    assert [(str(f.kind), f.closed_s, f.corrected) for f in flight.judge.findings] == [
        ("not_verifiable", 12, False)
    ]


@pytest.mark.parametrize("later", [0.0, 3.0])
def test_undoing_the_call_of_the_new_phase_opens_nothing(later: float) -> None:
    """The call entered the roll; the phase is not left by its undo, so the finding stays history."""
    flight = pushed([push([BEACON_ON.id]), replace(go([]), entry=called("cleared"))])
    flight.send_frame(10, ["cleared"])
    assert only(flight).closed_s == 10
    flight.send_frame(10 + later)
    flight.judge.undo_call("cleared", "captain")
    assert only(flight).closed_s == 10
