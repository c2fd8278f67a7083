"""Phases and gates: cues, entries, what is recognised, what is passed over, and coming back."""

from __future__ import annotations

from rules.judge.entries import GateCued, GateEntered, Life, PhaseEntered
from rules.language import checked as c
from rules.packs.model import Gate
from tests.rules.judge.making import (
    AT_REST,
    BEACON,
    HEADING,
    LIGHT,
    SHEET,
    Flight,
    Rules,
    above,
    called,
    go,
    item,
    on,
    only,
    push,
    replace,
    same,
    told,
)

BEACON_ON = item("beacon", on(BEACON))
BOTH = [push([BEACON_ON.id]), go([BEACON_ON.id])]


def back(needs: tuple[str, ...] = ()) -> Gate:
    """Back to the stand, by a light."""
    return Gate("back", "Back", "stand", ("pushing", "rolling"), called("stop"), on(LIGHT), needs)


def test_the_first_phase_is_entered_at_the_first_frame() -> None:
    """The first frame enters the first phase, coming from nowhere."""
    flight = Flight(Rules([BEACON_ON]))
    assert only(flight.at(3), PhaseEntered) == [PhaseEntered(3, "stand", "")]


def test_cue_then_entry() -> None:
    """A gate is cued, then entered, and the phase changes."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    assert only(flight.at(1, ["ready"]), GateCued) == [GateCued(1, "push", 1)]
    entries = flight.at(2, beacon="on", speed=3.0)
    assert only(entries, GateEntered) == [GateEntered(2, "push", 0)]
    assert only(entries, PhaseEntered) == [PhaseEntered(2, "pushing", "stand")]


def test_a_later_gate_may_be_entered_directly() -> None:
    """Those between are passed over: no findings of theirs, and they are out of play."""
    flight = Flight(Rules([BEACON_ON], gates=BOTH))
    flight.at(0, speed=0.0)
    gates = [replace(BOTH[0], entry=on(LIGHT)), BOTH[1]]
    flight = Flight(Rules([BEACON_ON], gates=gates))
    flight.at(0)
    flight.at(5, speed=40.0)
    assert flight.phases == ["stand", "rolling"]
    assert [f.gate for f in flight.core.findings] == ["go"]
    flight.at(6, ["ready"], light="on")
    assert flight.phases == ["stand", "rolling"]
    assert "push" not in [g.gate for g in only(flight.entries, GateCued)]


def test_two_entries_in_one_frame_are_taken_in_turn() -> None:
    """Where one sample makes two entries so, both gates are entered, in the pack's order."""
    flight = Flight(Rules([BEACON_ON], gates=BOTH))
    flight.at(0)
    flight.at(5, speed=40.0)
    assert flight.phases == ["stand", "pushing", "rolling"]


def test_an_entry_that_was_never_seen_false_is_recognised() -> None:
    """A bridge that joins in the roll goes there without findings: nobody was seen passing the gates."""
    flight = Flight(Rules([BEACON_ON], gates=BOTH), start=AT_REST | {"speed": 50.0})
    entries = flight.at(100)
    assert flight.phases == ["stand", "pushing", "rolling"]
    assert only(entries, GateCued) == []
    assert only(entries, GateEntered) == []
    assert flight.core.findings == []


def test_recognised_when_its_signal_comes_later() -> None:
    """A first frame without the signal does not turn the second one into an entry."""
    start = {k: v for k, v in AT_REST.items() if k != "speed"}
    flight = Flight(Rules([BEACON_ON]), start=start)
    flight.at(0)
    flight.at(1, speed=3.0)
    assert flight.phases == ["stand", "pushing"]
    assert flight.core.findings == []


def test_nothing_is_recognised_backward() -> None:
    """An entry that was so all along does not take the flight back to an earlier phase."""
    flight = Flight(Rules([BEACON_ON], gates=[push([]), back()]), start=AT_REST | {"light": "on"})
    flight.at(0)
    flight.at(5, speed=3.0)
    flight.at(6, heading=20.0)
    assert flight.phases == ["stand", "pushing"]


def test_a_cue_that_cannot_be_told_stays_as_it_was() -> None:
    """A cue that becomes unknown neither goes nor comes again."""
    gate = replace(push([BEACON_ON.id]), cue=above(HEADING, 10))
    flight = Flight(Rules([BEACON_ON], gates=[gate]))
    flight.at(0)
    flight.at(1, heading=20.0)
    del flight.values["heading"]
    flight.until(2, 8)
    assert flight.core.gates.states["push"].cued_s == 1
    flight.at(9, heading=20.0)
    assert len(only(flight.entries, GateCued)) == 1


def test_coming_back_makes_items_unverified_again() -> None:
    """After a return the gate is in play anew: what was met before is not remembered as undone."""
    flight = Flight(Rules([BEACON_ON], gates=[*BOTH, back()]))
    flight.at(0, beacon="on")
    flight.at(5, speed=3.0)
    flight.at(10, beacon="off")
    assert flight.core.items.states[BEACON_ON.id].life is Life.LOST
    flight.at(20, light="on", speed=0.0)
    assert flight.phases == ["stand", "pushing", "stand"]
    flight.at(21, ["ready"])
    flight.at(22)
    assert flight.kinds == ["omitted beacon"]


def test_coming_back_voids_confirmations() -> None:
    """What the crew confirmed is to be confirmed anew."""
    papers = item("papers", None, confirm="Papers on board")
    flight = Flight(Rules([papers], gates=[push([papers.id]), back()]))
    flight.at(0)
    flight.core.confirm(papers.id, "captain")
    assert flight.core.items.states[papers.id].life is Life.CONFIRMED
    flight.at(5, speed=3.0)
    flight.at(20, light="on", speed=0.0)
    assert flight.core.items.states[papers.id].life is Life.OPEN


def test_coming_back_forgets_who_moved_what() -> None:
    """A value that was dialled on the flight before is not a wrong value of this one."""
    dial = item("dial", same(HEADING, SHEET))
    flight = Flight(Rules([dial], gates=[push([dial.id]), back()]), sheet={"trip.heading": 140.0})
    flight.at(0)
    flight.at(1, heading=140.0)
    flight.at(5, speed=3.0)
    flight.at(9, heading=20.0)
    flight.at(20, light="on", speed=0.0)
    flight.at(21, ["ready"])
    flight.at(22)
    assert flight.kinds == ["omitted dial"]


def test_a_finding_of_the_round_before_does_not_hide_a_new_one() -> None:
    """What was carried and never mended is found and told anew after a return."""
    flight = Flight(Rules([BEACON_ON], gates=[push([BEACON_ON.id]), back()]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(2)
    flight.at(5, speed=3.0)
    flight.at(40, light="on", speed=0.0)
    flight.at(41, ["ready"])
    flight.at(43)
    assert [f.carried for f in flight.core.findings] == [True, False]
    assert len(told(flight.entries)) == 2
    flight.at(50, beacon="on")
    flight.at(51)
    assert [f.closed_s for f in flight.core.findings] == [50, 50]


def test_a_gate_is_not_entered_twice_by_one_entry() -> None:
    """A gate that leaves its own phase is entered again only after its entry was false."""
    own = replace(push([BEACON_ON.id]), leaves=("stand", "pushing"))
    flight = Flight(Rules([BEACON_ON], gates=[own]))
    flight.at(0)
    flight.at(1, speed=3.0)
    flight.at(2, ["ready"])
    flight.at(3, heading=3.0)
    assert len(only(flight.entries, GateEntered)) == 1
    assert flight.phases == ["stand", "pushing"]
    flight.at(4, speed=0.0)
    flight.at(5, speed=3.0)
    assert len(only(flight.entries, GateEntered)) == 2


def test_findings_of_gates_that_were_passed_over_get_no_lead() -> None:
    """A gate that is never entered gives no lead time; its findings stay until mended."""
    gates = [replace(BOTH[0], entry=on(LIGHT)), replace(BOTH[1], needs=())]
    flight = Flight(Rules([BEACON_ON], gates=gates))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(2)
    flight.at(5, speed=40.0)
    finding = flight.core.findings[0]
    assert (finding.lead_s, finding.carried, finding.closed_s) == (None, False, None)


def test_an_entry_held_for_a_while() -> None:
    """An entry with a hold enters when the hold is over, at the first frame from then on."""
    gate = replace(push([]), entry=c.Held(above(HEADING, 10), 3.0))
    flight = Flight(Rules([BEACON_ON], gates=[gate]))
    flight.at(0)
    flight.at(1, heading=20.0)
    flight.at(3.5)
    assert flight.phases == ["stand"]
    flight.at(4.0)
    assert flight.phases == ["stand", "pushing"]


def test_coming_back_forgets_what_was_called_since() -> None:
    """A clearance of the first round does not serve for the second; one from before it does."""
    clear = item("clear", called("ground_clear"))
    gate = replace(push([clear.id]), entry=called("cleared"))
    flight = Flight(Rules([clear], gates=[gate, back()]))
    flight.at(0, ["ground_clear", "ready"])
    assert flight.core.items.states[clear.id].truth is True
    flight.at(5, ["cleared"])
    flight.at(20, light="on")
    assert flight.phases == ["stand", "pushing", "stand"]
    assert flight.core.items.states[clear.id].truth is False
    assert only(flight.at(22), GateCued) == []
    flight.at(30, ["ready"], light="off")
    flight.at(32)
    assert flight.kinds == ["omitted clear"]
    flight.at(40, ["cleared"])
    assert flight.phases[-1] == "pushing"


def test_a_call_that_brings_the_flight_back_counts() -> None:
    """What is said in the very step of the return belongs to the new round."""
    clear = item("clear", called("ground_clear"))
    gates = [push([]), replace(back(), entry=called("ground_clear"))]
    flight = Flight(Rules([clear], gates=[*gates, replace(go([clear.id]), leaves=("stand",))]))
    flight.at(0)
    flight.at(5, speed=3.0)
    flight.at(6, ["ground_clear"])
    assert flight.phases == ["stand", "pushing", "stand"]
    assert flight.core.items.states[clear.id].truth is True


def test_a_call_from_before_the_phase_of_the_return_stays() -> None:
    """Coming back to the push back forgets what was called there and later, not what was called at the stand."""
    clear, ready = item("clear", called("ground_clear")), item("ready", called("ready"))
    again = Gate("again", "Again", "pushing", ("rolling",), called("stop"), on(LIGHT), ())
    flight = Flight(Rules([clear, ready], gates=[push([ready.id]), go([clear.id]), again]))
    flight.at(0, ["ready"])
    flight.at(5, speed=3.0)
    flight.at(6, ["ground_clear"])
    flight.at(7, speed=40.0)
    flight.at(9, light="on")
    assert flight.phases == ["stand", "pushing", "rolling", "pushing"]
    assert flight.core.items.states[ready.id].truth is True
    assert flight.core.items.states[clear.id].truth is False
