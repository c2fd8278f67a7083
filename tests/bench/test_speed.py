"""Measures speed with pytest-benchmark, without any assertion about time.

    pytest tests/bench -m bench --benchmark-group-by=group

Each group has ours and its peers on the same frames.  `python -m tests.bench` alternates between them and prints ratios.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from itertools import cycle
from typing import Any

import pytest

from rules.judge.judge import Judge
from rules.signals.model import Frame
from tests.bench.flight_frames import FlightFrames, conditions_without_figures, flight_trace
from tests.bench.latency import latencies_s, percentile
from tests.bench.measure import started
from tests.bench.peers import PEERS, CelPeer, HandWritten, RuleEnginePeer
from tests.bench.pipeline import FORMATS, Pipeline, datagrams
from tests.bench.temporal import RtamtPeer, temporal_conditions
from tests.bench.translate import plain_conditions

pytestmark = [
    pytest.mark.bench,
    pytest.mark.usefixtures("peers"),
]
ROUNDS = 400
PLAIN, TIMED = "conditions without time", "conditions with time"
Benchmark = Any


@pytest.fixture(scope="module")
def trace() -> FlightFrames:
    """Give the part of the flight from the push back through both engine starts."""
    return flight_trace(3000).part(2500, ROUNDS + 1)


def each_frame(
    benchmark: Benchmark,
    trace: FlightFrames,
    step: Callable[..., object],
    ready: Callable[[Frame], tuple[object, ...]],
) -> None:
    """Measure `step` on one frame in each round; `ready` makes its arguments and is not measured."""
    frames = iter(trace.frames[1:])
    benchmark.pedantic(step, setup=lambda: (ready(next(frames)), {}), rounds=ROUNDS)


@pytest.mark.benchmark(group=PLAIN)
def test_monitors(benchmark: Benchmark, trace: FlightFrames) -> None:
    """Our monitors, incremental."""
    state, monitors = started(trace, plain_conditions(conditions_without_figures(trace.pack)))
    each_frame(benchmark, trace, monitors.advance, lambda f: (f.sim_s, state.fold(f)))


@pytest.mark.benchmark(group=PLAIN)
@pytest.mark.parametrize("peer", PEERS, ids=lambda peer: peer.name)
def test_peers(
    benchmark: Benchmark, trace: FlightFrames, peer: type[HandWritten] | type[RuleEnginePeer] | type[CelPeer]
) -> None:
    """Each peer, evaluating everything."""
    theirs = peer(plain_conditions(conditions_without_figures(trace.pack)), next(trace.values()))

    def ready(frame: Frame) -> tuple[()]:
        theirs.update(frame.changes)
        return ()

    each_frame(benchmark, trace, theirs.judge, ready)


@pytest.mark.benchmark(group=PLAIN)
def test_judge(benchmark: Benchmark, trace: FlightFrames) -> None:
    """The whole judge with the whole pack."""
    judge = Judge(trace.pack, trace.trip)
    judge.judge_frame(trace.frames[0])
    each_frame(benchmark, trace, judge.judge_frame, lambda f: (f,))


@pytest.mark.benchmark(group=TIMED)
def test_monitors_with_time(benchmark: Benchmark, trace: FlightFrames) -> None:
    """Our monitors of conditions with time."""
    state, monitors = started(trace, temporal_conditions(trace.pack))
    each_frame(benchmark, trace, monitors.advance, lambda f: (f.sim_s, state.fold(f), f.calls))


@pytest.mark.benchmark(group=TIMED)
def test_rtamt(benchmark: Benchmark, trace: FlightFrames) -> None:
    """The online monitors of rtamt."""
    theirs = RtamtPeer(temporal_conditions(trace.pack), next(trace.values()), trace.pack)

    def ready(frame: Frame) -> tuple[float]:
        theirs.update(frame.changes, frame.calls)
        return (frame.sim_s,)

    each_frame(benchmark, trace, theirs.judge, ready)


@pytest.mark.benchmark(group="decode, map and judge")
@pytest.mark.parametrize("form", FORMATS)
def test_pipeline(benchmark: Benchmark, trace: FlightFrames, form: str) -> None:
    """From the bytes to the events."""
    sent = [(data, sim_s) for sim_s, pieces in datagrams(trace, form) for data in pieces]
    pipeline = Pipeline(trace, form)
    for data, sim_s in sent[:2]:
        pipeline.process(data, sim_s)
    rest = cycle(sent[2:])
    benchmark.pedantic(pipeline.process, setup=lambda: (next(rest), {}), rounds=len(sent) - 2)


def test_datagram_to_notice(trace: FlightFrames, record_property: Callable[[str, object], None]) -> None:
    """Every switch moved by a sender in another process gives its notice."""
    found = asyncio.run(latencies_s(trace, 120, 60.0))
    record_property("p99_ms", percentile(found, 99) * 1e3)
    assert len(found) == 60
