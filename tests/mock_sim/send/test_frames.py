"""Tests of frames: numbers, clocks, repeated calls, pauses and jumps."""

from __future__ import annotations

from collections.abc import Sequence

from mock_sim.crew import CrewCall
from mock_sim.run import FlightMoment
from mock_sim.scenario import Scenario
from mock_sim.send import ClockJump, ClockPause, FlightFrames, OutgoingFrame

SCENARIO = Scenario.model_validate(
    {
        "name": "s",
        "title": "S",
        "world": {},
        "trip": {},
        "ends": [],
        "longest_s": 60,
        "seats": {
            "atc": [{"key": "a", "calls": ["cleared"]}],
            "ground": [{"key": "b", "calls": ["clear", "cleared"]}],
        },
    }
)


def moments(count: int = 5) -> list[FlightMoment]:
    """One in a second; the second one has a call, made a little before."""
    calls_at = {1: (CrewCall("cleared", "atc", 0.7),)}
    return [
        FlightMoment(float(at), {"sim.paused": "no", "speed": float(at)}, calls_at.get(at, ()))
        for at in range(count)
    ]


def frames(clock_faults: Sequence[ClockPause | ClockJump] = (), first_number: int = 0) -> list[OutgoingFrame]:
    """The frames of those moments."""
    return list(
        FlightFrames(SCENARIO, moments(), rate_hz=1, clock_faults=clock_faults, first_number=first_number)
    )


def test_each_moment_is_a_frame_with_the_next_number() -> None:
    """Numbers count up, the clock is the simulator's, the state is whole."""
    assert [(frame.number, frame.clock_s, frame.due_s, frame.fields["speed"]) for frame in frames()] == [
        (count, count, count, count) for count in range(5)
    ]


def test_a_call_is_repeated_with_its_time_in_every_frame() -> None:
    """The field of a call has no value before the call; all calls have a field from the start, so that the columns stay the same."""
    assert [frame.fields["call.cleared"] for frame in frames()] == [None, 0.7, 0.7, 0.7, 0.7]
    assert [frame.fields["call.clear"] for frame in frames()] == [None] * 5
    assert len({tuple(frame.fields) for frame in frames()}) == 1


def test_numbers_begin_again_after_32_bits() -> None:
    """After the largest number comes 0."""
    assert [frame.number for frame in frames(first_number=2**32 - 2)][:3] == [2**32 - 2, 2**32 - 1, 0]


def test_frames_during_a_pause_report_the_pause() -> None:
    """During a pause the clock stops and frames continue with `sim.paused`; later frames are late by its length."""
    sent = frames([ClockPause(2, 3)])
    assert [frame.clock_s for frame in sent] == [0, 1, 2, 2, 2, 2, 3, 4]
    assert [frame.due_s for frame in sent] == [0, 1, 2, 3, 4, 5, 6, 7]
    assert [frame.fields["sim.paused"] for frame in sent] == [
        "no",
        "no",
        "yes",
        "yes",
        "yes",
        "no",
        "no",
        "no",
    ]
    assert [frame.number for frame in sent] == list(range(8))


def test_a_silent_pause_sends_nothing() -> None:
    """During a silent pause no frame is sent; then the next number follows."""
    sent = frames([ClockPause(2, 3, silent=True)])
    assert [(frame.number, frame.clock_s, frame.due_s) for frame in sent] == [
        (0, 0, 0),
        (1, 1, 1),
        (2, 2, 5),
        (3, 3, 6),
        (4, 4, 7),
    ]


def test_a_jump_moves_the_clock_that_is_sent() -> None:
    """The clock goes back on a reposition, never below 0; the times of sending do not change."""
    sent = frames([ClockJump(2, -1.5), ClockJump(4, -10)])
    assert [frame.clock_s for frame in sent] == [0, 1, 0.5, 1.5, 0]
    assert [frame.due_s for frame in sent] == [0, 1, 2, 3, 4]
