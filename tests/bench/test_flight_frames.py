"""Tests of the benchmark's frames: number of signals and changes, and no findings."""

from __future__ import annotations

import pytest

from rules.judge.condition_ids import monitored_conditions
from rules.judge.judge import Judge
from rules.packs.condition_facts import signals_read
from rules.signals.model import is_valid
from rules.signals.state import SignalState
from tests.bench.flight_frames import (
    CHANGING,
    FIGURE,
    SIGNALS,
    FlightFrames,
    flight_trace,
    nearby_value,
    twin_jet,
)


@pytest.mark.parametrize("rough", [False, True])
def test_each_frame_changes_a_tenth(rough: bool) -> None:
    """The first frame has 340 signals, and each other frame changes exactly 30, also in the folded state."""
    trace = flight_trace(200, rough=rough)
    state = SignalState(trace.pack.signals)
    changes = [len(state.fold(frame)) for frame in trace.frames]
    assert changes == [SIGNALS] + [CHANGING] * 199
    assert all(len(frame.carried) == SIGNALS for frame in trace.frames)


def test_every_signal_that_the_pack_reads_is_sent() -> None:
    """The 340 signals include all that the pack reads, except trip values and figures."""
    pack, trip = twin_jet()
    read = frozenset().union(*map(signals_read, monitored_conditions(pack).values()))
    sent = {name for name in read - trip.values.keys() if not name.startswith(FIGURE)}
    assert sent <= flight_trace(2).signals.keys()


def test_the_filled_flight_has_no_finding() -> None:
    """The added changes cause no finding in a flight without mistakes."""
    trace = flight_trace(200)
    judge = Judge(trace.pack, trace.trip)
    for frame in trace.frames:
        judge.judge_frame(frame)
    assert judge.findings == []


def test_a_nearby_value_is_different_and_valid() -> None:
    """A nearby value differs, and is within the signal's range or words."""
    trace = flight_trace(2)
    values = next(trace.values())
    for name, signal in trace.signals.items():
        if signal.words or signal.is_numeric:
            other = nearby_value(signal, values[name])
            assert other != values[name]
            assert is_valid(signal, other), name


def test_a_part_begins_with_every_signal(rough: FlightFrames) -> None:
    """The first frame of a part has the state of the whole flight at that frame."""
    part = rough.part(50, 20)
    assert len(part.frames) == 20
    assert len(part.frames[0].changes) == SIGNALS
    states = [dict(values) for values in rough.values()]
    assert [dict(values) for values in part.values()] == states[50:70]
