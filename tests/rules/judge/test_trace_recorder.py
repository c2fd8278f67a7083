"""Traces: samples, ends, marks, findings and bounds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.judge.events import JudgeEvent, TraceEnd, TraceRecorded
from rules.judge.judge import Judge
from rules.packs.model import Level, TraceLimit, TraceMark, TraceRule, Watch
from rules.signals.model import Value
from tests.rules.judge.scripted_flight import (
    BEACON,
    HEIGHT,
    PUMP,
    SPEED,
    FixedTripValues,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    events_of,
    on,
)

FAST = Watch("watch.fast", "Speed", "captain", Level.CAUTION, None, above(HEIGHT, 100))
ROLL = TraceRule(
    "trace.roll",
    "Roll",
    begins=on(PUMP),
    ends=above(SPEED, 80),
    signals=("speed", "height", "beacon"),
    interval_s=2.0,
    max_duration_s=20.0,
    limits=(TraceLimit("speed", 60.0, "a limit"),),
    marks=(TraceMark("rolling", above(SPEED, 10)), TraceMark("beacon", on(BEACON))),
    evidence_for=frozenset({"watch.fast"}),
)


def traced_flight(
    trace: TraceRule = ROLL, watches: list[Watch] | None = None, **start: Value
) -> ScriptedFlight:
    """A flight with one trace, its first frame sent at 0."""
    rules = PackBuilder([], watches=watches or [])
    flight = ScriptedFlight(rules)
    flight.judge = Judge(replace(rules.pack(), traces=(trace,)), FixedTripValues(), calls_entered=True)
    flight.values |= start
    flight.send_frame(0)
    return flight


def recorded_trace(entries: list[JudgeEvent]) -> TraceRecorded:
    """The only trace among the events."""
    (found,) = events_of(entries, TraceRecorded)
    return found


def test_no_trace_is_active_before_its_condition_is_true() -> None:
    """No trace is active or recorded before its condition is true."""
    flight = traced_flight()
    flight.send_frame(30, speed=100.0)
    assert not flight.judge.snapshot().traces
    assert events_of(flight.events, TraceRecorded) == []


def test_a_trace_has_its_signals_from_begin_to_end() -> None:
    """A trace has a sample at once, one in every interval, and a last one at the end."""
    flight = traced_flight()
    flight.send_frame(10, pump="on", speed=5.0)
    flight.send_frame(13, speed=40.0)
    trace = recorded_trace(flight.send_frame(15, speed=81.0))
    assert (trace.trace, trace.title, trace.began_s, trace.ended_s, trace.end) == (
        "trace.roll", "Roll", 10.0, 15.0, TraceEnd.ENDED,
    )  # fmt: skip
    assert trace.times_s == (10.0, 12.0, 14.0, 15.0)
    assert [(column.signal, column.unit) for column in trace.columns] == [
        ("speed", "kt"), ("height", "ft"), ("beacon", ""),
    ]  # fmt: skip
    assert trace.columns[0].values == (5.0, 5.0, 40.0, 81.0)
    assert trace.columns[2].values == ("off",) * 4
    assert trace.limits == ROLL.limits
    assert not flight.judge.snapshot().traces


def test_marks_are_at_their_first_moment() -> None:
    """Marks are in the order of their times; one that never becomes true is left out."""
    flight = traced_flight()
    flight.send_frame(10, pump="on", beacon="on")
    flight.send_frame(12, speed=20.0)
    flight.send_frame(13, speed=5.0)
    flight.send_frame(14, speed=30.0)
    trace = recorded_trace(flight.send_frame(15, speed=81.0))
    assert [(mark.sim_s, mark.label) for mark in trace.marks] == [(10.0, "beacon"), (12.0, "rolling")]
    other = traced_flight()
    other.send_frame(10, pump="on", speed=30.0)
    assert [mark.label for mark in recorded_trace(other.send_frame(12, speed=90.0)).marks] == ["rolling"]


def test_a_snapshot_of_an_active_trace_does_not_change() -> None:
    """A snapshot of an active trace does not change afterwards."""
    flight = traced_flight()
    flight.send_frame(10, pump="on")
    (picture,) = flight.judge.snapshot().traces
    flight.send_frame(16, speed=20.0)
    (later,) = flight.judge.snapshot().traces
    assert picture.times_s == (10.0,)
    assert (later.id, later.title, later.began_s) == ("trace.roll", "Roll", 10.0)
    assert later.times_s == (10.0, 12.0, 14.0, 16.0)
    assert later.columns[0].values == (0.0, 0.0, 0.0, 20.0)
    assert [mark.label for mark in later.marks] == ["rolling"]


def test_the_maximum_duration_ends_a_trace() -> None:
    """The maximum duration ends a trace; it begins again only after its condition was false."""
    flight = traced_flight()
    flight.send_frame(10, pump="on")
    flight.send_frame(60)
    trace = recorded_trace(flight.events)
    assert (trace.end, trace.ended_s, len(trace.times_s)) == (TraceEnd.MAX_DURATION, 30.0, 11)
    assert not flight.judge.snapshot().traces
    flight.send_frame(61, pump="off")
    flight.send_frame(62, pump="on")
    assert [one.began_s for one in flight.judge.snapshot().traces] == [62.0]


def test_a_trace_does_not_start_while_its_end_condition_is_true() -> None:
    """A trace does not start while both conditions are true; it starts when the end condition becomes false."""
    flight = traced_flight(speed=100.0)
    flight.send_frame(10, pump="on")
    assert not flight.judge.snapshot().traces
    flight.send_frame(12, speed=20.0)
    assert [one.began_s for one in flight.judge.snapshot().traces] == [12.0]


def test_a_bridge_that_joins_in_the_middle_keeps_the_rest() -> None:
    """A condition that is true in the first frame begins the trace."""
    flight = traced_flight(pump="on")
    assert [one.began_s for one in flight.judge.snapshot().traces] == [0.0]


def test_a_clock_that_jumps_back_ends_it_as_a_reset() -> None:
    """The trace up to the jump is recorded with the old clock's times, and a new one begins."""
    flight = traced_flight()
    flight.send_frame(10, pump="on")
    flight.send_frame(14, speed=20.0)
    trace = recorded_trace(flight.reset_clock(2.0))
    assert (trace.sim_s, trace.began_s, trace.ended_s, trace.end) == (2.0, 10.0, 14.0, TraceEnd.RESET)
    assert trace.times_s == (10.0, 12.0, 14.0)
    assert [one.began_s for one in flight.judge.snapshot().traces] == [2.0]


def test_a_stale_signal_leaves_a_gap() -> None:
    """A signal that is not fresh has no value."""
    flight = traced_flight()
    flight.send_frame(10, pump="on", speed=20.0)
    flight.values.pop("height")
    flight.send_frame(16)
    (picture,) = flight.judge.snapshot().traces
    assert picture.columns[1].values[0] == 0.0
    assert picture.columns[1].values[-1] is None
    assert picture.columns[0].values[-1] == 20.0


def test_no_sample_where_the_clock_is_still() -> None:
    """Time without frames gives no sample."""
    flight = traced_flight()
    flight.send_frame(10, pump="on")
    for recv_s in range(11, 90):
        flight.events += flight.judge.tick(float(recv_s))
    assert [one.times_s for one in flight.judge.snapshot().traces] == [(10.0,)]


def test_after_a_gap_one_sample_and_then_the_same_grid() -> None:
    """Missed samples are not filled in."""
    flight = traced_flight()
    flight.send_frame(10, pump="on")
    flight.send_after_silence(15.5, 15.5)
    flight.send_frame(17)
    (picture,) = flight.judge.snapshot().traces
    assert picture.times_s == (10.0, 15.5, 16.0)


def test_findings_that_open_in_it_are_named() -> None:
    """Findings for which it is evidence and that opened or reopened in its time are named, earlier ones are not."""
    low = replace(FAST, applies=on(BEACON))
    flight = traced_flight(watches=[low])
    flight.send_frame(5, beacon="on")
    flight.send_frame(8, beacon="off")
    flight.send_frame(10, pump="on")
    flight.send_frame(12, beacon="on")
    assert recorded_trace(flight.send_frame(15, speed=90.0)).findings == (1,)
    other = traced_flight(watches=[low])
    other.send_frame(5, beacon="on")
    other.send_frame(10, pump="on")
    assert recorded_trace(other.send_frame(15, speed=90.0)).findings == ()
    third = traced_flight(replace(ROLL, evidence_for=frozenset()), watches=[low])
    third.send_frame(10, pump="on", beacon="on")
    assert recorded_trace(third.send_frame(15, speed=90.0)).findings == ()


def test_a_trace_has_findings_of_its_first_and_last_moment() -> None:
    """Findings of the first and the last moment belong to it."""
    flight = traced_flight(watches=[replace(FAST, applies=on(BEACON))])
    flight.send_frame(10, pump="on", beacon="on")
    assert recorded_trace(flight.send_frame(15, speed=90.0)).findings == (1,)
    other = traced_flight(watches=[replace(FAST, applies=on(BEACON))])
    other.send_frame(10, pump="on")
    assert recorded_trace(other.send_frame(15, speed=90.0, beacon="on")).findings == (1,)


def test_a_call_can_start_a_trace() -> None:
    """A trace may start in the step of a call."""
    flight = traced_flight(replace(ROLL, begins=called("cleared")))
    flight.send_frame(10)
    flight.call("cleared")
    assert [one.began_s for one in flight.judge.snapshot().traces] == [10.0]


@pytest.mark.parametrize("rate_hz", [1, 7, 20])
def test_the_same_recording_gives_the_same_trace_to_the_byte(rate_hz: int) -> None:
    """The same frames give an equal event at any rate, never with more samples than its bound."""

    def played() -> list[JudgeEvent]:
        flight = traced_flight(replace(ROLL, interval_s=0.25))
        for n in range(1, 60 * rate_hz):
            flight.send_after_silence(n / rate_hz, n / rate_hz)
            flight.values |= {"speed": n / rate_hz, "pump": "on" if n / rate_hz > 3.3 else "off"}
        return flight.events

    first, second = played(), played()
    assert repr(first) == repr(second)
    assert len(recorded_trace(first).times_s) <= 20.0 / 0.25 + 2
