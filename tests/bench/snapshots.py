"""Measures the snapshot beside judging: what the screens cost, in the same run as the frames, in processor time.

Takes: a flight.  Gives: `SnapshotRun`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from rules.judge.judge import Judge
from rules.judge.snapshot_builder import SnapshotBuilder
from tests.bench.flight_frames import FlightFrames
from tests.bench.measure import PASSES, Series, freeze_heap

SNAPSHOT_INTERVAL = 15
"""Frames between two snapshots: screens refresh four times a second, a simulator sends 60 frames."""
FULL_INTERVAL = 60


class SnapshotRun:
    """Judges each frame with three judges: without snapshots, with one each 15th frame, with one after each change.

    Attributes:
        judging: judge a frame.
        with_snapshots: judge a frame, and each 15th time take a snapshot.
        interval: such a snapshot alone, of 15 frames.
        one_change: a snapshot after one sample has changed.
        full: a snapshot without an earlier one.
    """

    def __init__(self, trace: FlightFrames) -> None:
        self.trace = trace
        self.judging, self.with_snapshots, self.interval = Series(), Series(), Series()
        self.one_change, self.full = Series(), Series()

    def run(self, passes: int = PASSES) -> None:
        """Measure; the best of the passes counts."""
        freeze_heap()
        for _ in range(passes):
            self._pass()

    def _pass(self) -> None:
        plain, shown, followed = (self._started() for _ in range(3))
        for number, frame in enumerate(self.trace.frames[1:]):
            self.judging.add(number, _elapsed_ns(partial(plain.judge_frame, frame)))
            judged_ns, taken_ns = _elapsed_ns(partial(shown.judge_frame, frame)), 0
            if number % SNAPSHOT_INTERVAL == 0:
                taken_ns = _elapsed_ns(shown.snapshot)
                self.interval.add(number, taken_ns)
            self.with_snapshots.add(number, judged_ns + taken_ns)
            followed.judge_frame(replace(frame, changes=frame.changes[1:]))
            if number % SNAPSHOT_INTERVAL == 0:
                followed.snapshot()
                followed.judge_frame(replace(frame, changes=frame.changes[:1], calls=()))
                self.one_change.add(number, _elapsed_ns(followed.snapshot))
            else:
                followed.judge_frame(replace(frame, changes=frame.changes[:1], calls=()))
            if number % FULL_INTERVAL == 0:
                self.full.add(number, _elapsed_ns(SnapshotBuilder(followed._stepper).snapshot))

    def _started(self) -> Judge:
        """Make a judge that has seen the first frame and given one snapshot."""
        judge = Judge(self.trace.pack, self.trace.trip)
        judge.judge_frame(self.trace.frames[0])
        judge.snapshot()
        return judge


def _elapsed_ns(step: Callable[[], object]) -> int:
    began = time.process_time_ns()
    step()
    return time.process_time_ns() - began
