"""Events before the flight was joined are not known, and no error is made of them."""

from __future__ import annotations

import pytest

from rules.judge.events import (
    CallEntered,
    FlightTimeRecorded,
    GateEntered,
    ItemStatus,
    PhaseEntered,
    Verdict,
)
from rules.judge.gate_counts import GateReadiness, counts_of
from rules.judge.judge import Judge
from rules.language import checked_tree as c
from rules.packs.model import FindingKind, FlightTimeRule, Level, OooiMoment, Watch
from rules.signals.model import Frame, Quality, Sample
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEADING,
    LIGHT,
    PROBE,
    PUMP,
    SPEED,
    FixedTripValues,
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

SWEEP = c.Sweep(c.SignalValue(HEADING, unit="deg"), c.Constant(-95.0, "deg"), c.Constant(95.0, "deg"))
SWEPT = item("swept", c.Once(SWEEP))
AFTER_PUMP = item("after_pump", c.BeforeAfter(SWEEP, "after", c.Rise(on(PUMP))))
BEACON_ON = item("beacon", on(BEACON))


def _pack(*items: object) -> PackBuilder:
    """A pack in which both gates need these items."""
    ids = [each.id for each in items]  # type: ignore[attr-defined]
    return PackBuilder(list(items), gates=[push(ids), go(ids)])  # type: ignore[arg-type]


def _pass_push(flight: ScriptedFlight, from_s: float) -> None:
    """Cue and enter the first gate."""
    flight.send_frame(from_s)
    flight.send_frame(from_s + 10, ["ready"])
    flight.send_frame(from_s + 20, speed=3.0)


@pytest.mark.parametrize(("from_s", "kind"), [(0.0, "omitted"), (10.0, "omitted"), (10.1, "not_verifiable")])
def test_only_a_flight_watched_from_its_beginning_omits(from_s: float, kind: str) -> None:
    """A first frame late on the simulator's clock is a flight joined on its way, even in the first phase."""
    flight = ScriptedFlight(_pack(SWEPT))
    _pass_push(flight, from_s)
    assert flight.finding_kinds == [f"{kind} swept"]


def test_what_is_seen_after_the_join_is_met() -> None:
    """A check that is seen is met, and one that is not done is a doubt that does not make the next gate unready."""
    flight = ScriptedFlight(_pack(SWEPT, AFTER_PUMP), start=AT_REST | {"pump": "on"})
    flight.send_frame(640)
    flight.send_frame(641, heading=-100.0)
    flight.send_frame(642, heading=100.0)
    flight.send_frame(650, ["ready"])
    entered = events_of(flight.send_frame(660, speed=3.0), GateEntered)
    assert [counts_of(event).readiness for event in entered] == [GateReadiness.CLEAR]
    assert flight.judge.findings == []


def test_a_reference_that_is_seen_makes_absence_a_fact() -> None:
    """The pump is switched on under watch, and nothing is swept after it: that was omitted."""
    flight = ScriptedFlight(_pack(AFTER_PUMP))
    flight.send_frame(640)
    flight.send_frame(645, pump="on")
    _pass_push(flight, 650)
    assert flight.finding_kinds == ["omitted after_pump"]


def test_a_doubt_of_an_earlier_gate_leaves_the_next_one_clear() -> None:
    """The advisory of the join is not another open finding at every later gate."""
    flight = ScriptedFlight(
        PackBuilder([SWEPT, BEACON_ON], gates=[push([SWEPT.id]), go([BEACON_ON.id])]),
        start=AT_REST | {"beacon": "on"},
    )
    _pass_push(flight, 640)
    (entered,) = events_of(flight.send_frame(700, ["cleared"], speed=40.0), GateEntered)
    assert flight.finding_kinds == ["not_verifiable swept"]
    assert counts_of(entered).readiness is GateReadiness.CLEAR


def test_the_verdict_says_since_when_it_is_watched() -> None:
    """The item is without data, with the time of the join."""
    flight = ScriptedFlight(_pack(SWEPT))
    flight.send_frame(640)
    state = flight.judge.snapshot().items[SWEPT.id]
    assert (state.verdict, state.status) == (Verdict.UNKNOWN, ItemStatus.NO_DATA)
    assert state.sentence.endswith(": watched only since 0:10:40")


def test_a_first_frame_in_a_later_phase_is_a_join_at_any_clock() -> None:
    """A flight that begins on the runway at 0 s was prepared by nobody who was watched."""
    flight = ScriptedFlight(_pack(SWEPT), start=AT_REST | {"speed": 3.0})
    flight.send_frame(0)
    flight.send_frame(10, ["cleared"])
    flight.send_frame(20, speed=40.0)
    assert flight.finding_kinds == ["not_verifiable swept"]


def test_a_phase_that_is_recognised_soon_is_a_join_too() -> None:
    """An entry that needs some seconds shows late that the flight was on its way."""
    held = replace(push([]), entry=c.TimedHistorically(above(SPEED, 1), 5.0))
    flight = ScriptedFlight(
        PackBuilder([SWEPT], gates=[held, go([SWEPT.id])]), start=AT_REST | {"speed": 3.0}
    )
    flight.send_frame(0)
    flight.send_frame(20, ["cleared"])
    flight.send_frame(30, speed=40.0)
    assert flight.finding_kinds == ["not_verifiable swept"]


def test_coming_back_to_the_first_phase_begins_a_flight() -> None:
    """The next sector of a flight that was joined on its way is watched from its beginning."""
    back = replace(
        push(()), id="back", phase="stand", leaves=("pushing", "rolling"), cue=on(LIGHT), entry=on(PROBE)
    )
    flight = ScriptedFlight(
        PackBuilder([SWEPT], gates=[back, push([SWEPT.id])]), start=AT_REST | {"speed": 3.0}
    )
    flight.send_frame(640)
    flight.send_frame(700, speed=0.0)
    flight.send_frame(710, probe="on")
    _pass_push(flight, 720)
    assert flight.finding_kinds == ["omitted swept"]


def test_a_reset_to_the_stand_begins_a_flight_and_one_into_the_roll_does_not() -> None:
    """The clock decides anew after a reset."""
    flight = ScriptedFlight(_pack(SWEPT))
    flight.send_frame(640)
    flight.reset_clock(0.0)
    _pass_push(flight, 1)
    assert flight.finding_kinds == ["omitted swept"]
    flight = ScriptedFlight(_pack(SWEPT))
    flight.send_frame(0)
    flight.reset_clock(0.0, speed=3.0)
    flight.send_frame(10, ["cleared"])
    flight.send_frame(20, speed=40.0)
    assert flight.finding_kinds == ["not_verifiable swept"]


def test_a_watch_does_not_know_either() -> None:
    """A limit on the past is unknown, and opens no finding."""
    watch = Watch("watch.w", "Sweep", "captain", Level.CAUTION, None, c.Once(SWEEP), hold_s=1.0)
    for from_s, found in ((0.0, ["watch.w"]), (640.0, [])):
        flight = ScriptedFlight(PackBuilder([], watches=[watch]))
        flight.send_frames(int(from_s), int(from_s) + 5)
        assert [finding.item for finding in opened_findings(flight.events)] == found


def test_calls_before_the_join_are_unknown_unless_the_sender_stores_them() -> None:
    """One call that is entered later does not show that the others were not made."""
    spoken = item("spoken", called("ground_clear"))
    flight = ScriptedFlight(_pack(spoken), calls_entered=False)
    _pass_push(flight, 640)
    assert flight.finding_kinds == ["not_verifiable spoken"]
    flight = ScriptedFlight(_pack(spoken), calls_entered=False)
    flight.send_frame(640, ["stop"])
    _pass_push(flight, 641)
    assert flight.finding_kinds == ["omitted spoken"]


@pytest.mark.parametrize(("from_s", "earlier"), [(0.0, False), (640.0, True)])
def test_calls_of_the_first_frame_of_a_joined_flight_were_made_earlier(
    from_s: float, *, earlier: bool
) -> None:
    """Their time is not that of the join; those that come later are made when they come."""
    flight = ScriptedFlight(_pack(SWEPT))
    flight.send_frame(from_s, ["stop"])
    flight.send_frame(from_s + 1, ["ready"])
    flight.call("cleared")
    entered = events_of(flight.events, CallEntered)
    assert [(e.call, e.earlier) for e in entered] == [("stop", earlier), ("ready", False), ("cleared", False)]


def test_a_gate_is_entered_as_it_is_seen() -> None:
    """Its entry waits for a call that may have been made before: it is entered, and judged, when the call is seen."""
    entry = c.And((called("cleared"), above(SPEED, 1)))
    flight = ScriptedFlight(
        PackBuilder([BEACON_ON], gates=[replace(push([BEACON_ON.id]), cue=called("ready"), entry=entry)]),
        calls_entered=False,
    )
    flight.send_frame(640, ["ready"])
    flight.send_frame(650, speed=3.0)
    flight.send_frame(660, ["cleared"])
    assert len(events_of(flight.events, GateEntered)) == 1


def test_phases_that_nobody_saw_are_not_logged() -> None:
    """The log begins with the phase in which the flight was found."""
    flight = ScriptedFlight(_pack(SWEPT), start=AT_REST | {"speed": 50.0})
    flight.send_frame(640)
    assert events_of(flight.events, PhaseEntered) == [PhaseEntered(640.0, "rolling", "")]


@pytest.mark.parametrize(("speed", "count"), [(0.0, 1), (3.0, 0)])
def test_the_time_out_is_unknown_where_it_was_not_seen(speed: float, count: int) -> None:
    """A second movement after the join is no block-out; the first one is, where the flight was joined on the stand."""
    rule = FlightTimeRule(OooiMoment.OUT, above(SPEED, 1), ("stand", "pushing"))
    pack = replace(_pack(SWEPT).pack(), flight_times=(rule,))
    judge = Judge(pack, FixedTripValues())
    events = []
    for sim_s, now in ((640.0, speed), (650.0, 0.0), (660.0, 3.0)):
        values = AT_REST | {"speed": now}
        samples = [Sample(name, value, Quality.FRESH, sim_s) for name, value in values.items()]
        events += judge.judge_frame(Frame("test", sim_s, sim_s, 0, tuple(values), samples))
    assert len(events_of(events, FlightTimeRecorded)) == count


def test_a_static_state_shows_no_past() -> None:
    """One state can never show that a check was omitted."""
    pack = _pack(SWEPT, BEACON_ON).pack()
    judge = Judge(pack, FixedTripValues(), steady=True)
    samples = [Sample(name, value, Quality.FRESH, 0.0) for name, value in AT_REST.items()]
    judge.judge_frame(Frame("file", 0.0, 0.0, 0, tuple(AT_REST), samples))
    items = judge.explained_snapshot().items
    assert items[BEACON_ON.id].verdict is Verdict.UNMET
    assert items[SWEPT.id].status is ItemStatus.NO_DATA
    assert items[SWEPT.id].sentence.endswith(": a single state does not show it")
    assert [f.kind for f in judge.findings if f.kind is not FindingKind.NOT_VERIFIABLE] == []
