"""The frames of the benchmark are what the table says of them."""

from __future__ import annotations

import pytest

from rules.judge.condition_facts import signals_read
from rules.judge.condition_ids import monitored_conditions
from rules.judge.judge import Judge
from rules.signals.state import SignalState, is_valid
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
    """The first frame tells 300 signals, every other one changes exactly 30, as the state sees it too."""
    trace = flight_trace(200, rough=rough)
    state = SignalState(trace.pack.signals)
    told = [len(state.fold(frame)) for frame in trace.frames]
    assert told == [SIGNALS] + [CHANGING] * 199
    assert all(len(frame.carried) == SIGNALS for frame in trace.frames)


def test_every_signal_that_the_pack_reads_is_there() -> None:
    """Of the 300, all that the pack reads but the papers are among them."""
    pack, trip = twin_jet()
    read = frozenset().union(*map(signals_read, monitored_conditions(pack).values()))
    sent = {name for name in read - trip.values.keys() if not name.startswith(FIGURE)}
    assert sent <= flight_trace(2).signals.keys()


def test_the_crew_hears_nothing() -> None:
    """What fills the frames up does not disturb the flight: a clean crew has no finding."""
    trace = flight_trace(200)
    core = Judge(trace.pack, trace.trip)
    for frame in trace.frames:
        core.judge_frame(frame)
    assert core.findings == []


def test_a_moved_value_is_another_that_can_be() -> None:
    """Moving a signal gives a different value within its range or words."""
    trace = flight_trace(2)
    values = next(trace.values())
    for name, signal in trace.signals.items():
        if signal.words or signal.is_numeric:
            other = nearby_value(signal, values[name])
            assert other != values[name]
            assert is_valid(signal, other), name


def test_a_part_begins_with_everything(rough: FlightFrames) -> None:
    """A part of a trace shows at its first frame what the whole shows there."""
    part = rough.part(50, 20)
    assert len(part.frames) == 20
    assert len(part.frames[0].changes) == SIGNALS
    whole = [dict(values) for values in rough.values()]
    assert [dict(values) for values in part.values()] == whole[50:70]
