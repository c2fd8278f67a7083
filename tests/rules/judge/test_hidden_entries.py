"""Entries of gates of which a part is never known, and entries that were unknown when they happened."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from rules.judge.events import GateEntered, ItemStatus
from rules.language import checked_tree as c
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEIGHT,
    LIGHT,
    PROBE,
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
    opened_findings,
    push,
    replace,
)

BEACON_ON = item("beacon", on(BEACON))
MOVES = above(SPEED, 1)


def flight_with_entry(
    entry: c.Condition, *, without: Sequence[str] = (), calls_entered: bool = False, **values: str | float
) -> ScriptedFlight:
    """A flight whose push back has this entry; some signals are not sent."""
    start = {name: value for name, value in (AT_REST | values).items() if name not in without}
    gate = replace(push([BEACON_ON.id]), entry=entry)
    return ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]), start=start, calls_entered=calls_entered)


def entered(flight: ScriptedFlight) -> list[tuple[str, float]]:
    """The gates that were judged, with their times."""
    return [(event.gate, event.sim_s) for event in events_of(flight.events, GateEntered)]


HIDDEN = [
    c.Or((called("ready"), MOVES)),
    c.Or((on(LIGHT), MOVES)),
    c.Or((c.And((called("ready"), above(HEIGHT, -1))), MOVES)),
    c.Or((c.TimedHistorically(on(LIGHT), 2.0), MOVES)),
    c.Or((c.Not(on(LIGHT)), MOVES)),
    c.Or((c.Implies(called("ready"), c.Not(called("ready"))), MOVES)),
    c.And((above(HEIGHT, -1), c.Or((on(LIGHT), MOVES)))),
    c.NumberOf((on(LIGHT), called("cleared"), MOVES), 1, 3),
    c.Or((c.TimedOnce(c.Rise(on(LIGHT)), 5.0), MOVES)),
    c.Or((c.BeforeAfter(c.CallEvent("ready", "ready"), "after", c.Rise(MOVES)), MOVES)),
]


@pytest.mark.parametrize("entry", HIDDEN, ids=range(len(HIDDEN)))
def test_a_gate_is_judged_by_the_part_that_is_known(entry: c.Condition) -> None:
    """Nobody enters calls and the light is never sent: the speed alone tells that the gate is entered."""
    flight = flight_with_entry(entry, without=["light"])
    flight.send_frames(0, 3)
    assert entered(flight) == []
    flight.send_frame(4, speed=3.0)
    assert entered(flight) == [("push", 4)]
    assert flight.finding_kinds == ["omitted beacon"]


@pytest.mark.parametrize("entry", HIDDEN, ids=range(len(HIDDEN)))
def test_a_watch_that_joins_late_does_not_judge_it(entry: c.Condition) -> None:
    """The known part is true from the first frame on: the gate was passed before."""
    flight = flight_with_entry(entry, without=["light"], speed=3.0)
    flight.send_frames(0, 9)
    assert entered(flight) == []
    assert flight.finding_kinds == []


def test_a_part_that_appears_true_was_not_seen_to_become_true() -> None:
    """The light is sent late, and is on: the gate may have been passed long before."""
    flight = flight_with_entry(c.Or((on(LIGHT), MOVES)), without=["light"])
    flight.send_frames(0, 3)
    flight.send_frame(4, light="on")
    assert flight.phases == ["stand", "pushing"]
    assert entered(flight) == []
    assert flight.finding_kinds == []


def test_a_part_that_appears_false_is_judged_from_then_on() -> None:
    """The light is sent late, and is off; it is switched on later."""
    flight = flight_with_entry(c.Or((on(LIGHT), MOVES)), without=["light"])
    flight.send_frames(0, 3)
    flight.send_frame(4, light="off")
    flight.send_frame(6, light="on")
    assert entered(flight) == [("push", 6)]


def test_a_part_that_appears_while_the_rest_is_true_is_not_judged() -> None:
    """Rolling, the gate waits for a pump that is sent late: running, it may have run before."""
    flight = flight_with_entry(c.And((MOVES, on(PUMP))), without=["pump"])
    flight.send_frame(0)
    flight.send_frame(2, speed=3.0)
    flight.send_frame(5, pump="on")
    assert flight.phases == ["stand", "pushing"]
    assert entered(flight) == []


def test_what_has_not_lasted_long_enough_is_not_hidden() -> None:
    """Joined while it moves: that it has moved for 5 s becomes known later, and is no entry."""
    entry = c.Or((called("ready"), c.TimedHistorically(MOVES, 5.0)))
    flight = flight_with_entry(entry, speed=3.0)
    flight.send_frames(0, 9)
    assert flight.phases == ["stand", "pushing"]
    assert entered(flight) == []


def test_what_is_stale_is_not_hidden() -> None:
    """A signal that was received before can be true without being seen."""
    flight = flight_with_entry(c.Or((called("ready"), MOVES)), speed=3.0)
    flight.values.pop("speed")
    flight.send_frames(0, 9)
    flight.send_frame(10, speed=3.0)
    assert entered(flight) == []


def test_the_first_call_of_a_session_is_an_entry() -> None:
    """A call that is made has not been made before."""
    flight = flight_with_entry(called("ready"))
    flight.send_frames(0, 3)
    flight.send_frame(4, ["ready"])
    assert entered(flight) == [("push", 4)]


def test_a_second_round_is_judged_too() -> None:
    """Back at the stand and out again, without calls: each round has its entry."""
    gates = [
        replace(push([BEACON_ON.id]), entry=c.Or((called("ready"), MOVES))),
        replace(push([]), id="back", phase="stand", leaves=("pushing",), cue=on(LIGHT), entry=on(LIGHT)),
    ]
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=gates), calls_entered=False)
    flight.send_frame(0)
    flight.send_frame(2, speed=3.0)
    flight.send_frame(4, speed=0.0, light="on")
    flight.send_frame(6, light="off")
    flight.send_frame(8, speed=3.0)
    assert entered(flight) == [("push", 2), ("back", 4), ("push", 8)]


EDGE = c.TimedOnce(c.Rise(MOVES), 5.0)
EDGE_OR_LEVEL = c.Or((EDGE, c.TimedHistorically(MOVES, 5.0)))


def flight_through_gap(entry: c.Condition, until_s: float = 16) -> ScriptedFlight:
    """It begins to move while data are missing, with the probe on and the beacon off."""
    items = [BEACON_ON, item("probe", on(PROBE))]
    gate = replace(push([each.id for each in items]), cue=on(PUMP), entry=entry)
    flight = ScriptedFlight(PackBuilder(items, gates=[gate]))
    flight.send_frame(0, probe="on")
    flight.send_frame(14)
    flight.send_after_gap(until_s, missing_from_s=14.2, speed=3.0)
    return flight


@pytest.mark.parametrize("entry", [EDGE, EDGE_OR_LEVEL])
def test_an_edge_in_a_gap_enters_with_doubt(entry: c.Condition) -> None:
    """It stood before the gap and moves after it: what is not met then may have been met at the edge."""
    flight = flight_through_gap(entry)
    flight.send_frames(17, 30)
    assert entered(flight) == [("push", 16)]
    assert flight.finding_kinds == ["not_verifiable beacon"]
    assert opened_findings(flight.events)[0].sentence == "1.8 s of data missing"


def test_an_edge_before_the_look_back_needs_a_level_beside_it() -> None:
    """After a gap that is longer than the look-back only the level recognises the entry."""
    missed, recognised = flight_through_gap(EDGE, 24), flight_through_gap(EDGE_OR_LEVEL, 24)
    for flight in (missed, recognised):
        flight.send_frames(25, 40)
    assert entered(missed) == []
    assert entered(recognised) == [("push", 29)]
    assert recognised.finding_kinds == ["not_verifiable beacon"]


def test_an_error_found_before_the_gap_stays_an_error() -> None:
    """The crew was warned at the cue: that it did so in the gap has to be seen."""
    gate = replace(push([BEACON_ON.id]), entry=EDGE_OR_LEVEL)
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(14)
    flight.send_after_gap(16, missing_from_s=14.2, speed=3.0)
    flight.send_frames(17, 30)
    assert flight.finding_kinds == ["omitted beacon"]


def test_an_entry_that_was_seen_false_after_the_gap_is_judged() -> None:
    """The gap is over when it begins to move."""
    gate = replace(push([BEACON_ON.id]), cue=on(PUMP), entry=EDGE_OR_LEVEL)
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]))
    flight.send_frame(0)
    flight.send_after_gap(6, missing_from_s=4.2)
    flight.send_frame(20)
    flight.send_frame(21, speed=3.0)
    assert flight.finding_kinds == ["omitted beacon"]


def test_a_stale_entry_is_in_doubt_too() -> None:
    """The speed was out of date when the aeroplane began to move."""
    gate = replace(push([BEACON_ON.id]), cue=on(PUMP))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]))
    flight.send_frame(0)
    del flight.values["speed"]
    flight.send_frames(1, 9)
    flight.send_frame(10, speed=3.0)
    assert entered(flight) == [("push", 10)]
    assert flight.finding_kinds == ["not_verifiable beacon"]
    assert opened_findings(flight.events)[0].sentence == "not known when this gate was entered"


def test_a_hidden_part_is_no_doubt() -> None:
    """A call that nobody makes leaves the entry unknown until it moves; when it moves is known."""
    gates = [
        replace(push([BEACON_ON.id]), entry=c.Or((called("ready"), MOVES))),
        replace(go([]), entry=c.Or((called("cleared"), above(SPEED, 30)))),
    ]
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=gates), calls_entered=False)
    flight.send_frame(0)
    flight.send_frame(3, speed=40.0)
    assert entered(flight) == [("push", 3), ("go", 3)]
    assert flight.finding_kinds == ["omitted beacon"]
    assert flight.judge.snapshot().items[BEACON_ON.id].status is ItemStatus.OPEN
