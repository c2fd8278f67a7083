"""A stall of the sender, after which it goes on where it stopped, leaves no trace in what is judged."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.judge.events import JudgeEvent, VerdictChanged
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.signals.model import Frame
from tests.rules.judge.batch.compare_batch import JudgeInput, TickInput, batch_events, live_events
from tests.rules.judge.batch.test_random_packs import NAMES, frames, packs
from tests.rules.judge.scripted_flight import FixedTripValues

STEPS_S = st.sampled_from([0.0, 0.25, 0.25, 0.5, 1.0, 2.5])
STALL_S = 8.0


@st.composite
def flights(draw: st.DrawFn) -> tuple[list[Frame], list[JudgeInput]]:
    """Frames without a stall, and the same frames with some: in each of them ticks find the values stale."""
    at_s, smooth = 8.0, list[Frame]()
    for _ in range(draw(st.integers(2, 14))):
        frame = draw(frames(at_s, at_s, 0))
        wanted = {sample.name for sample in frame.changes}
        smooth.append(
            replace(
                frame,
                carried=NAMES,
                missing_from_s=None,
                changes=tuple(s for s in frame.changes if s.name in wanted),
            )
        )
        at_s += draw(STEPS_S)
    late_s, stalled = 0.0, list[JudgeInput]([smooth[0]])
    for before, frame in pairwise(smooth):
        for _ in range(draw(st.sampled_from([0, 0, 1, 2]))):
            late_s += STALL_S
            if draw(st.booleans()):
                stalled.append(TickInput(before.recv_s + late_s))
        stalled.append(replace(frame, recv_s=frame.recv_s + late_s))
    return smooth, stalled


def _judged(judge: Judge, inputs: list[JudgeInput]) -> list[JudgeEvent]:
    events: list[JudgeEvent] = []
    for each in inputs:
        events += judge.judge_frame(each) if isinstance(each, Frame) else judge.tick(each.recv_s)  # type: ignore[union-attr]
    return [event for event in events if not isinstance(event, VerdictChanged)]


@settings(max_examples=100, deadline=None)
@given(packs(), flights())
def test_a_stall_changes_nothing_that_is_judged(
    pack: Pack, flight: tuple[list[Frame], list[JudgeInput]]
) -> None:
    """But for the verdicts in the stall all events are the same, and so is the state of every item and watch."""
    smooth, stalled = flight
    one, other = (Judge(pack, FixedTripValues(), calls_entered=True) for _ in range(2))
    assert _judged(one, list(smooth)) == _judged(other, stalled)
    first, second = one.snapshot(), other.snapshot()
    assert first.items == second.items
    assert first.watches == second.watches
    assert [gate.counts for gate in first.gates.values()] == [gate.counts for gate in second.gates.values()]


@settings(max_examples=100, deadline=None)
@given(packs(), flights())
def test_both_judges_agree_about_stalls(pack: Pack, flight: tuple[list[Frame], list[JudgeInput]]) -> None:
    """The batch judge gives the events of the live judge."""
    _, stalled = flight
    trip = FixedTripValues()
    assert batch_events(pack, trip, stalled) == live_events(pack, trip, stalled)
