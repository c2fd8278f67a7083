"""Measures ours beside a peer, alternating on each frame, so that other load of the machine affects both.

Each figure is microseconds for a frame: for each frame the best of the passes, then the mean over the frames (the median
where stated).  Slow peers judge only every n-th frame; since they evaluate everything each time, the choice of frames does
not change their figure.  The first pass compares the truth values; a peer that disagrees raises.

Takes: flights.  Gives: `PlainRun`, `TemporalRun`.
"""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from rules.judge.judge import Judge
from rules.language.checked_tree import Condition
from rules.language.online import Monitors
from rules.signals.model import Frame
from rules.signals.state import SignalState
from tests.bench.flight_frames import FlightFrames, conditions_without_figures
from tests.bench.peers import PEERS, HandWritten, Peer
from tests.bench.temporal import RtamtPeer, temporal_conditions
from tests.bench.translate import plain_conditions

PASSES = 3


class DisagreementError(Exception):
    """A peer gives other truth values than ours, so that a comparison of speed is not valid."""


@dataclass
class Series:
    """The best time of each frame over the passes, in nanoseconds, by the frame's number."""

    best_ns: dict[int, int] = field(default_factory=dict)

    def add(self, frame: int, elapsed_ns: int) -> None:
        """Add one measurement."""
        self.best_ns[frame] = min(elapsed_ns, self.best_ns.get(frame, elapsed_ns))

    @property
    def mean_us(self) -> float:
        """Mean over the frames, in microseconds."""
        return statistics.fmean(self.best_ns.values()) / 1e3

    @property
    def median_us(self) -> float:
        """Median over the frames, in microseconds."""
        return statistics.median(self.best_ns.values()) / 1e3


def freeze_heap() -> None:
    """Exclude the objects of the benchmark itself (the flight) from garbage collection."""
    gc.collect()
    gc.freeze()


def started(trace: FlightFrames, conditions: Mapping[str, Condition]) -> tuple[SignalState, Monitors]:
    """Make a state with the trip sheet and the first frame, and monitors that have seen it."""
    state = SignalState(trace.pack.signals)
    samples = [
        sample for name, value in trace.trip.values.items() for sample in state.set_value(name, value, 0.0)
    ]
    monitors = Monitors(conditions, state)
    first = trace.frames[0]
    monitors.advance(first.sim_s, [*samples, *state.fold(first)], first.calls)
    return state, monitors


class PlainRun:
    """Run of the pack's conditions without time beside hand-written Python, rule-engine and CEL, and of the whole judge."""

    def __init__(self, trace: FlightFrames, every: int) -> None:
        """Prepare the run; slow peers judge every `every`-th frame."""
        self.trace, self.every = trace, every
        self.conditions = plain_conditions(conditions_without_figures(trace.pack))
        self.all_conditions, self.judge, self.ours, self.hand_with_update = (
            Series(),
            Series(),
            Series(),
            Series(),
        )
        self.peers = {peer.name: Series() for peer in PEERS}
        self.compared = 0

    def run(self, passes: int = PASSES) -> None:
        """Measure, and compare in the first pass."""
        freeze_heap()
        for number in range(passes):
            self._pass(check=number == 0)

    def _pass(self, *, check: bool) -> None:
        state, monitors = started(self.trace, self.conditions)
        all_state, all_monitors = started(self.trace, conditions_without_figures(self.trace.pack))
        judge = Judge(self.trace.pack, self.trace.trip)
        judge.judge_frame(self.trace.frames[0])
        peers = [peer(self.conditions, next(self.trace.values())) for peer in PEERS]
        for number, frame in enumerate(self.trace.frames[1:]):
            samples = state.fold(frame)
            self._time_step(self.ours, number, monitors.advance, frame.sim_s, samples)
            all_state.fold(frame)
            self._time_step(
                self.all_conditions, number, all_monitors.advance, frame.sim_s, samples, frame.calls
            )
            self._time_step(self.judge, number, judge.judge_frame, frame)
            for peer in peers:
                truths = self._time_peer(peer, frame, number)
                if check and truths is not None:
                    self._compare(peer.name, monitors, truths)

    @staticmethod
    def _time_step(series: Series, number: int, step: Callable[..., object], *arguments: object) -> None:
        began = time.perf_counter_ns()
        step(*arguments)
        series.add(number, time.perf_counter_ns() - began)

    def _time_peer(self, peer: Peer, frame: Frame, number: int) -> list[bool] | None:
        """Measure a peer on one frame and give its truth values; None where it skips the frame."""
        began = time.perf_counter_ns()
        peer.update(frame.changes)
        if number % self.every and not isinstance(peer, HandWritten):
            return None
        updated = time.perf_counter_ns()
        truths = peer.judge()
        judged = time.perf_counter_ns()
        self.peers[peer.name].add(number, judged - updated)
        if isinstance(peer, HandWritten):
            self.hand_with_update.add(number, judged - began)
        return truths

    def _compare(self, name: str, monitors: Monitors, truths: Sequence[bool]) -> None:
        for condition, truth in zip(self.conditions, truths, strict=True):
            ours = monitors.truth(condition)
            if ours is not truth:
                raise DisagreementError(f"{name} gives {truth} for {condition}, ours {ours}")
        self.compared += len(truths)


class TemporalRun:
    """Run of conditions with time beside rtamt."""

    def __init__(self, trace: FlightFrames) -> None:
        """Choose the conditions."""
        self.trace = trace
        self.conditions = temporal_conditions(trace.pack)
        self.ours, self.theirs = Series(), Series()
        self.compared = self.skipped = 0

    def run(self, passes: int = PASSES) -> None:
        """Measure, and compare in the first pass."""
        freeze_heap()
        for number in range(passes):
            self._pass(check=number == 0)

    def _pass(self, *, check: bool) -> None:
        state, monitors = started(self.trace, self.conditions)
        peer = RtamtPeer(self.conditions, next(self.trace.values()), self.trace.pack)
        first = self.trace.frames[0]
        peer.update((), first.calls)
        peer.judge(first.sim_s)
        for number, frame in enumerate(self.trace.frames[1:]):
            samples = state.fold(frame)
            began = time.perf_counter_ns()
            monitors.advance(frame.sim_s, samples, frame.calls)
            self.ours.add(number, time.perf_counter_ns() - began)
            peer.update(frame.changes, frame.calls)
            began = time.perf_counter_ns()
            margins = peer.judge(frame.sim_s)
            self.theirs.add(number, time.perf_counter_ns() - began)
            if check:
                self._compare(monitors, margins)

    def _compare(self, monitors: Monitors, margins: Sequence[float]) -> None:
        for condition, margin in zip(self.conditions, margins, strict=True):
            ours = monitors.truth(condition)
            if ours is None or margin == 0:
                self.skipped += 1
                continue
            if ours is not (margin > 0):
                raise DisagreementError(f"rtamt gives {margin} for {condition}, ours {ours}")
            self.compared += 1
