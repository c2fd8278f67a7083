"""Undo of calls: the state as if the call had not been entered, apart from what has happened since."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace as changed_in

from rules.faults import InputFaults
from rules.judge.events import CallEntered, CallUndone, GateCued, ItemStatus, Notice, PhaseEntered, Verdict
from rules.judge.snapshot import Snapshot
from rules.language import checked_tree as c
from rules.packs.model import Level, Watch
from tests.rules.judge.scripted_flight import (
    BEACON,
    HEADING,
    LIGHT,
    PUMP,
    SPEED,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    events_of,
    go,
    item,
    on,
    push,
    replace,
)
from tests.rules.judge.test_properties import STEPS

BEACON_ON = item("beacon", on(BEACON))
PUMP_ON = replace(item("pump", on(PUMP)), after=called("ground_clear"))
CLEARED = item("cleared", called("ground_clear"))


def test_the_record_names_the_undone_call() -> None:
    """The event names the call, who undid it, and when it had been entered."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(3, ["ground_clear"])
    flight.send_frame(5)
    assert flight.judge.undo_call("ground_clear", "captain") == [CallUndone(5, "ground_clear", "captain", 3)]


@pytest.mark.parametrize("started", [False, True])
@pytest.mark.parametrize(("name", "hint"), [("redy", "ready"), ("ready", "")])
def test_a_call_that_was_not_entered_is_not_undone(name: str, hint: str, *, started: bool) -> None:
    """A call that is unknown, or was not entered, is refused with a hint."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    if started:
        flight.send_frame(0)
    flight.call("cleared")
    with pytest.raises(InputFaults) as refused:
        flight.judge.undo_call(name)
    (fault,) = refused.value.faults
    assert fault.place.file == "undo-call"
    assert (hint or "calls in effect: cleared") in fault.hint


def test_a_call_can_be_undone_only_once() -> None:
    """A call that was undone cannot be undone again."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.call("ready")
    flight.judge.undo_call("ready")
    with pytest.raises(InputFaults, match="ready has not been called"):
        flight.judge.undo_call("ready")


def test_before_the_first_frame() -> None:
    """A pending call is undone without an event: it was never entered."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.call("ready")
    flight.call("ground_clear")
    assert flight.judge.undo_call("ready") == []
    assert [entry.call for entry in events_of(flight.send_frame(0), CallEntered)] == ["ground_clear"]


def test_undoing_a_call_reopens_the_item_and_its_finding() -> None:
    """A finding that the call had closed reopens unchanged, and the item is open since its old time."""
    flight = ScriptedFlight(PackBuilder([CLEARED]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(5, ["ground_clear"])
    assert [f.closed_s for f in flight.judge.findings] == [None]
    flight.send_frame(8)
    assert [f.closed_s for f in flight.judge.findings] == [5]
    flight.judge.undo_call("ground_clear")
    assert flight.finding_kinds == ["omitted cleared"]
    assert [f.closed_s for f in flight.judge.findings] == [None]
    assert flight.judge.snapshot().items[CLEARED.id].since_s == 0
    assert flight.judge.snapshot().items[CLEARED.id].status is ItemStatus.OPEN


def test_undoing_the_second_of_two_entries_restores_the_first() -> None:
    """The first of two entries is in effect again when the second is undone, with all that depends on it."""
    recent = item("recent", c.TimedOnce(c.CallEvent("ground_clear", "ground clear"), 10.0))
    flight = ScriptedFlight(PackBuilder([CLEARED, recent]))
    flight.send_frame(0)
    flight.send_frame(3, ["ground_clear"])
    flight.send_frame(12, ["ground_clear"])
    flight.judge.undo_call("ground_clear")
    lives = {name: state.status for name, state in flight.judge.snapshot().items.items()}
    assert lives[CLEARED.id] is ItemStatus.MET
    flight.send_frame(13)
    assert flight.judge.snapshot().items[recent.id].verdict is Verdict.UNMET


def test_a_count_leaves_it_out() -> None:
    """A count of calls leaves out one that was undone."""
    twice = c.Relation(c.EventCount(c.CallEvent("stop", "stop"), 60.0), ">", c.Constant(1.0, ""))
    flight = ScriptedFlight(PackBuilder([item("twice", twice)]))
    flight.send_frame(0)
    flight.send_frame(1, ["stop"])
    flight.send_frame(2, ["stop"])
    assert flight.judge.snapshot().items["flow.before.twice"].verdict is Verdict.MET
    flight.judge.undo_call("stop")
    assert flight.judge.snapshot().items["flow.before.twice"].verdict is Verdict.UNMET


def test_a_cue_is_undone_with_its_findings() -> None:
    """Findings of a cue by the call are closed, and a new call gives notices at once."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(4)
    assert [f.closed_s for f in flight.judge.findings] == [None]
    flight.judge.undo_call("ready")
    assert [f.closed_s for f in flight.judge.findings] == [4]
    assert flight.judge.snapshot().gates["push"].cued_s is None
    flight.send_frame(6, ["ready"])
    assert events_of(flight.send_frame(8), Notice) or events_of(flight.events[-4:], Notice)
    assert flight.finding_kinds == ["omitted beacon", "omitted beacon"]


def test_an_action_after_an_undone_call_is_too_early() -> None:
    """An action after the call has no prerequisite once the call is undone."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ground_clear"])
    flight.send_frame(3, pump="on")
    flight.send_frame(9)
    assert flight.finding_kinds == []
    flight.judge.undo_call("ground_clear")
    assert flight.finding_kinds == ["too_early pump"]
    flight.send_frame(11, ["ground_clear"])
    assert flight.judge.findings[0].closed_s == 11


def test_undoing_a_call_reopens_a_finding_about_order() -> None:
    """A finding about order that the call had closed reopens."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(1, pump="on")
    flight.send_frame(4, ["ground_clear"])
    assert [f.closed_s for f in flight.judge.findings] == [4]
    flight.judge.undo_call("ground_clear")
    assert [f.closed_s for f in flight.judge.findings] == [None]


def test_a_watch_returns_to_its_earlier_state() -> None:
    """After the undo, a watch that the call had corrected is violated again with the same finding; one that it violated is not."""
    light = Watch("w", "Light", "captain", Level.CAUTION, on(LIGHT), called("stop"))
    other = Watch("v", "Speed", "captain", Level.CAUTION, None, c.Not(called("stop")))
    flight = ScriptedFlight(PackBuilder([], gates=[], watches=[light, other]))
    flight.send_frame(0)
    flight.send_frame(1, light="on")
    flight.send_frame(5, ["stop"])
    flight.send_frame(9)
    assert [(f.item, f.closed_s) for f in flight.judge.findings] == [("w", 5), ("v", None)]
    flight.judge.undo_call("stop")
    assert [(f.item, f.closed_s) for f in flight.judge.findings] == [("w", None), ("v", 9)]
    assert flight.judge.snapshot().watches["w"].since_s == 1


def test_a_phase_that_was_entered_stays() -> None:
    """The phase does not change back; the findings of its entry stay."""
    gate = replace(push([BEACON_ON.id]), cue=above(SPEED, 1), entry=called("ready"))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]))
    flight.send_frame(0)
    flight.send_frame(2, ["ready"])
    assert flight.phases == ["stand", "pushing"]
    entries = flight.judge.undo_call("ready")
    assert events_of(entries, PhaseEntered) == []
    assert flight.judge.phase == "pushing"
    assert flight.judge.findings[0].closed_s is None


def test_undoing_the_only_call_makes_calls_unknown() -> None:
    """Undoing the only call leaves it unknown whether calls are entered, if that was not known."""
    flight = ScriptedFlight(PackBuilder([CLEARED]), calls_entered=False)
    flight.send_frame(0)
    flight.send_frame(1, ["stop"])
    assert flight.judge.snapshot().items[CLEARED.id].verdict is Verdict.UNMET
    flight.judge.undo_call("stop")
    assert flight.judge.snapshot().items[CLEARED.id].status is ItemStatus.NO_DATA
    flight.send_frame(2, ["stop"])
    flight.send_frame(3, ["ready"])
    flight.judge.undo_call("ready")
    assert flight.judge.snapshot().items[CLEARED.id].verdict is Verdict.UNMET


def test_calls_of_an_earlier_round_do_not_come_back() -> None:
    """A call that a return has made void cannot be undone, and a new entry of it is the only one."""
    back = replace(
        push(()), id="back", phase="stand", leaves=("pushing", "rolling"), cue=on(LIGHT), entry=on(LIGHT)
    )
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), back]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"], beacon="on")
    flight.send_frame(3, speed=5.0)
    flight.send_frame(5, speed=0.0, light="on")
    with pytest.raises(InputFaults, match="ready has not been called"):
        flight.judge.undo_call("ready")
    flight.send_frame(6, ["ready"], light="off")
    flight.judge.undo_call("ready")
    assert not flight.judge.snapshot().gates["push"].cued


def rules() -> PackBuilder:
    """A pack in which much depends on calls."""
    beacon, pump = BEACON_ON, PUMP_ON
    clear, mode = item("clear", called("ground_clear")), item("unstopped", c.Not(called("stop")))
    watches = [
        Watch("w", "Light", "captain", Level.CAUTION, on(LIGHT), called("ready"), hold_s=1.0),
        Watch("v", "Stop", "captain", Level.WARNING, called("stop"), on(BEACON)),
    ]
    needs = [beacon.id, pump.id, clear.id, mode.id]
    gates = [replace(push(needs), cue=c.Or((above(HEADING, 10), called("ready")))), go(needs[:2])]
    return PackBuilder([beacon, pump, clear, mode], gates=gates, watches=watches)


def without_findings(picture: Snapshot) -> dict[str, Any]:
    """Parts of a snapshot, with findings only as far as they are open, without their numbers."""
    parts: dict[str, Any] = {name: getattr(picture, name) for name in Snapshot.__slots__}
    parts["findings"] = [changed_in(f, number=0) for f in picture.findings if f.closed_s is None]
    return parts


@settings(max_examples=80)
@given(STEPS, st.sampled_from(["ready", "ground_clear", "stop", "cleared"]), st.booleans())
def test_a_call_undone_at_once_changes_nothing(
    steps: list[tuple[float, dict[str, Any], str]], name: str, calls_entered: bool
) -> None:
    """A call undone at once leaves the snapshot unchanged, if no phase was entered."""
    flight = ScriptedFlight(rules(), calls_entered=calls_entered)
    flight.send_frame(0.0)
    for dt_s, values, what in steps:
        now_s = flight.judge.sim_s + dt_s
        if what == "!reset":
            flight.reset_clock(dt_s, **values)
        else:
            flight.send_frame(now_s, [what] if what not in ("", "!gap") else [], **values)
    before = without_findings(flight.judge.snapshot())
    assume(not events_of(flight.call(name), PhaseEntered))
    flight.judge.undo_call(name)
    assert without_findings(flight.judge.snapshot()) == before


def test_a_gate_cued_before_stays_cued_since_then() -> None:
    """Undoing a call that had ended a gate's cue leaves it cued since its old time."""
    gate = replace(push([]), cue=c.And((on(BEACON), c.Not(called("stop")))))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]))
    flight.send_frame(0)
    assert events_of(flight.send_frame(2, beacon="on"), GateCued) == [GateCued(2, "push", 0, 0, 0, 0)]
    flight.send_frame(3, ["stop"])
    assert flight.judge.snapshot().gates["push"].cued_s is None
    flight.judge.undo_call("stop")
    assert flight.judge.snapshot().gates["push"].cued_s == 2
