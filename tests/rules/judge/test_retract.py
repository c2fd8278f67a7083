"""Calls that are taken back: as if they had not been made, but for what has happened in the meantime."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace as changed_in

from rules.faults import InputFaults
from rules.judge.entries import CallEntered, CallRetracted, GateCued, Life, Notice, PhaseEntered
from rules.judge.picture import Picture
from rules.language import checked as c
from rules.packs.model import Level, Watch
from tests.rules.judge.making import (
    BEACON,
    HEADING,
    LIGHT,
    PUMP,
    SPEED,
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
)
from tests.rules.judge.test_properties import STEPS

BEACON_ON = item("beacon", on(BEACON))
PUMP_ON = replace(item("pump", on(PUMP)), after=called("ground_clear"))
CLEARED = item("cleared", called("ground_clear"))


def test_the_record_says_what_was_taken_back() -> None:
    """The entry names the call, who took it back, and when it had been made."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(3, ["ground_clear"])
    flight.at(5)
    assert flight.core.retract("ground_clear", "captain") == [CallRetracted(5, "ground_clear", "captain", 3)]


@pytest.mark.parametrize("begun", [False, True])
@pytest.mark.parametrize(("name", "hint"), [("redy", "ready"), ("ready", "")])
def test_what_was_not_called_is_not_taken_back(name: str, hint: str, *, begun: bool) -> None:
    """A call that is unknown, or was not made, is refused with a word on what is there."""
    flight = Flight(Rules([BEACON_ON]))
    if begun:
        flight.at(0)
    flight.call("cleared")
    with pytest.raises(InputFaults) as refused:
        flight.core.retract(name)
    (fault,) = refused.value.faults
    assert fault.place.file == "retract"
    assert (hint or "these were: cleared") in fault.hint


def test_only_once() -> None:
    """A call that was taken back cannot be taken back again."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.call("ready")
    flight.core.retract("ready")
    with pytest.raises(InputFaults, match="ready was not called"):
        flight.core.retract("ready")


def test_before_the_first_frame() -> None:
    """A call that waits for the first frame is taken back silently: it was never entered."""
    flight = Flight(Rules([BEACON_ON]))
    flight.call("ready")
    flight.call("ground_clear")
    assert flight.core.retract("ready") == []
    assert [entry.call for entry in only(flight.at(0), CallEntered)] == ["ground_clear"]


def test_an_item_is_open_again_and_so_is_what_was_found_on_it() -> None:
    """A finding that the call had closed opens again, as it was, and the item is open since it ever was."""
    flight = Flight(Rules([CLEARED]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(5, ["ground_clear"])
    assert [f.closed_s for f in flight.core.findings] == [None]
    flight.at(8)
    assert [f.closed_s for f in flight.core.findings] == [5]
    flight.core.retract("ground_clear")
    assert flight.kinds == ["omitted cleared"]
    assert [f.closed_s for f in flight.core.findings] == [None]
    assert flight.core.items.states[CLEARED.id].since_s == 0
    assert flight.core.items.states[CLEARED.id].life is Life.OPEN


def test_an_earlier_making_counts_again() -> None:
    """Of two makings the first stands when the second is taken back, and with it what hangs on it."""
    recent = item("recent", c.Recent(c.CallMade("ground_clear", "ground clear"), 10.0))
    flight = Flight(Rules([CLEARED, recent]))
    flight.at(0)
    flight.at(3, ["ground_clear"])
    flight.at(12, ["ground_clear"])
    flight.core.retract("ground_clear")
    lives = {name: state.life for name, state in flight.core.items.states.items()}
    assert lives[CLEARED.id] is Life.MET
    flight.at(13)
    assert flight.core.items.states[recent.id].truth is False


def test_a_count_leaves_it_out() -> None:
    """How often a call was made does not count one that was taken back."""
    twice = c.Relation(c.Count(c.CallMade("stop", "stop"), 60.0), ">", c.Const(1.0, ""))
    flight = Flight(Rules([item("twice", twice)]))
    flight.at(0)
    flight.at(1, ["stop"])
    flight.at(2, ["stop"])
    assert flight.core.items.states["flow.before.twice"].truth is True
    flight.core.retract("stop")
    assert flight.core.items.states["flow.before.twice"].truth is False


def test_a_cue_is_taken_back_with_its_findings() -> None:
    """Findings that only the cue brought are closed, the gate waits, and a new call tells anew at once."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(4)
    assert [f.closed_s for f in flight.core.findings] == [None]
    flight.core.retract("ready")
    assert [f.closed_s for f in flight.core.findings] == [4]
    assert flight.core.gates.states["push"].cued_s is None
    flight.at(6, ["ready"])
    assert only(flight.at(8), Notice) or only(flight.entries[-4:], Notice)
    assert flight.kinds == ["omitted beacon", "omitted beacon"]


def test_what_was_done_after_it_was_too_early() -> None:
    """An action that came after the call came after nothing, once the call is taken back."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(1, ["ground_clear"])
    flight.at(3, pump="on")
    flight.at(9)
    assert flight.kinds == []
    flight.core.retract("ground_clear")
    assert flight.kinds == ["too_early pump"]
    flight.at(11, ["ground_clear"])
    assert flight.core.findings[0].closed_s == 11


def test_what_had_been_too_early_is_so_again() -> None:
    """A finding of the order that the call had closed opens again."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(1, pump="on")
    flight.at(4, ["ground_clear"])
    assert [f.closed_s for f in flight.core.findings] == [4]
    flight.core.retract("ground_clear")
    assert [f.closed_s for f in flight.core.findings] == [None]


def test_a_watch_stands_as_before() -> None:
    """A watch that the call had mended is broken again, by the same finding; one that it broke is not."""
    light = Watch("w", "Light", "captain", Level.CAUTION, on(LIGHT), called("stop"))
    other = Watch("v", "Speed", "captain", Level.CAUTION, None, c.Opposite(called("stop")))
    flight = Flight(Rules([], gates=[], watches=[light, other]))
    flight.at(0)
    flight.at(1, light="on")
    flight.at(5, ["stop"])
    flight.at(9)
    assert [(f.item, f.closed_s) for f in flight.core.findings] == [("w", 5), ("v", None)]
    flight.core.retract("stop")
    assert [(f.item, f.closed_s) for f in flight.core.findings] == [("w", None), ("v", 9)]
    assert flight.core.watches.states["w"].since_s == 1


def test_a_phase_that_was_entered_stays() -> None:
    """The flight does not go back; what was found at the entry stays on the record."""
    gate = replace(push([BEACON_ON.id]), cue=above(SPEED, 1), entry=called("ready"))
    flight = Flight(Rules([BEACON_ON], gates=[gate]))
    flight.at(0)
    flight.at(2, ["ready"])
    assert flight.phases == ["stand", "pushing"]
    entries = flight.core.retract("ready")
    assert only(entries, PhaseEntered) == []
    assert flight.core.session.phase == "pushing"
    assert flight.core.findings[0].closed_s is None


def test_calls_are_unheard_again_when_none_is_left() -> None:
    """Where nobody was known to enter calls, taking the only one back leaves it unknown whether one was made."""
    flight = Flight(Rules([CLEARED]), calls_heard=False)
    flight.at(0)
    flight.at(1, ["stop"])
    assert flight.core.items.states[CLEARED.id].truth is False
    flight.core.retract("stop")
    assert flight.core.items.states[CLEARED.id].life is Life.NO_DATA
    flight.at(2, ["stop"])
    flight.at(3, ["ready"])
    flight.core.retract("ready")
    assert flight.core.items.states[CLEARED.id].truth is False


def test_calls_of_an_earlier_round_do_not_come_back() -> None:
    """What the coming back has made void cannot be taken back, and a new making stands alone."""
    back = replace(
        push(()), id="back", phase="stand", leaves=("pushing", "rolling"), cue=on(LIGHT), entry=on(LIGHT)
    )
    flight = Flight(Rules([BEACON_ON], gates=[push([BEACON_ON.id]), back]))
    flight.at(0)
    flight.at(1, ["ready"], beacon="on")
    flight.at(3, speed=5.0)
    flight.at(5, speed=0.0, light="on")
    with pytest.raises(InputFaults, match="ready was not called"):
        flight.core.retract("ready")
    flight.at(6, ["ready"], light="off")
    flight.core.retract("ready")
    assert flight.core.session.monitors.truth("cue push") is False


def rules() -> Rules:
    """A pack in which much hangs on calls."""
    beacon, pump = BEACON_ON, PUMP_ON
    clear, mode = item("clear", called("ground_clear")), item("unstopped", c.Opposite(called("stop")))
    watches = [
        Watch("w", "Light", "captain", Level.CAUTION, on(LIGHT), called("ready"), hold_s=1.0),
        Watch("v", "Stop", "captain", Level.WARNING, called("stop"), on(BEACON)),
    ]
    needs = [beacon.id, pump.id, clear.id, mode.id]
    gates = [replace(push(needs), cue=c.Either((above(HEADING, 10), called("ready")))), go(needs[:2])]
    return Rules([beacon, pump, clear, mode], gates=gates, watches=watches)


def stripped(picture: Picture) -> dict[str, Any]:
    """A picture's parts, its findings only as far as they are open, whatever their numbers."""
    parts: dict[str, Any] = {name: getattr(picture, name) for name in Picture.__slots__}
    parts["findings"] = [changed_in(f, number=0) for f in picture.findings if f.closed_s is None]
    return parts


@settings(max_examples=80)
@given(STEPS, st.sampled_from(["ready", "ground_clear", "stop", "cleared"]), st.booleans())
def test_called_and_taken_back_at_once_is_as_if_not_called(
    steps: list[tuple[float, dict[str, Any], str]], name: str, heard: bool
) -> None:
    """However the flight went, a call taken back at once leaves the picture as it was, if no phase was entered."""
    flight = Flight(rules(), calls_heard=heard)
    flight.at(0.0)
    for dt_s, values, what in steps:
        now_s = flight.core.session.sim_s + dt_s
        if what == "!reset":
            flight.jump(dt_s, **values)
        else:
            flight.at(now_s, [what] if what not in ("", "!gap") else [], **values)
    before = stripped(flight.core.picture())
    assume(not only(flight.call(name), PhaseEntered))
    flight.core.retract(name)
    assert stripped(flight.core.picture()) == before


def test_a_gate_cued_before_stays_cued_since_then() -> None:
    """A call that had stopped a gate's cue, taken back, leaves it cued since it ever was."""
    gate = replace(push([]), cue=c.All((on(BEACON), c.Opposite(called("stop")))))
    flight = Flight(Rules([BEACON_ON], gates=[gate]))
    flight.at(0)
    assert only(flight.at(2, beacon="on"), GateCued) == [GateCued(2, "push", 0)]
    flight.at(3, ["stop"])
    assert flight.core.gates.states["push"].cued_s is None
    flight.core.retract("stop")
    assert flight.core.gates.states["push"].cued_s == 2
