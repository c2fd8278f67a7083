"""Speed with pytest-benchmark: `pytest tests/bench -m bench --benchmark-group-by=group`; nothing is asserted about time.

Each group has ours and its peers on the same frames.  `python -m tests.bench` measures them turn by turn and prints ratios.
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
PLAIN, TIMED = "conditions without time", "conditions about time"
Benchmark = Any


@pytest.fixture(scope="module")
def trace() -> FlightFrames:
    """From the push back on, through both engine starts."""
    return flight_trace(3000).part(2500, ROUNDS + 1)


def each_frame(
    benchmark: Benchmark,
    trace: FlightFrames,
    step: Callable[..., object],
    ready: Callable[[Frame], tuple[object, ...]],
) -> None:
    """Measure `step` on one frame a round; `ready` makes its arguments of the frame, unmeasured."""
    frames = iter(trace.frames[1:])
    benchmark.pedantic(step, setup=lambda: (ready(next(frames)), {}), rounds=ROUNDS)


@pytest.mark.benchmark(group=PLAIN)
def test_monitors(benchmark: Benchmark, trace: FlightFrames) -> None:
    """Ours, incrementally."""
    state, monitors = started(trace, plain_conditions(conditions_without_figures(trace.pack)))
    each_frame(benchmark, trace, monitors.advance, lambda f: (f.sim_s, state.fold(f)))


@pytest.mark.benchmark(group=PLAIN)
@pytest.mark.parametrize("peer", PEERS, ids=lambda peer: peer.name)
def test_peers(
    benchmark: Benchmark, trace: FlightFrames, peer: type[HandWritten] | type[RuleEnginePeer] | type[CelPeer]
) -> None:
    """Each peer, everything anew."""
    theirs = peer(plain_conditions(conditions_without_figures(trace.pack)), next(trace.values()))

    def ready(frame: Frame) -> tuple[()]:
        theirs.update(frame.changes)
        return ()

    each_frame(benchmark, trace, theirs.judge, ready)


@pytest.mark.benchmark(group=PLAIN)
def test_core(benchmark: Benchmark, trace: FlightFrames) -> None:
    """The whole core with the whole pack."""
    core = Judge(trace.pack, trace.trip)
    core.judge_frame(trace.frames[0])
    each_frame(benchmark, trace, core.judge_frame, lambda f: (f,))


@pytest.mark.benchmark(group=TIMED)
def test_monitors_about_time(benchmark: Benchmark, trace: FlightFrames) -> None:
    """Ours."""
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
def test_chain(benchmark: Benchmark, trace: FlightFrames, form: str) -> None:
    """From the bytes to the entries."""
    sent = [(data, sim_s) for sim_s, pieces in datagrams(trace, form) for data in pieces]
    chain = Pipeline(trace, form)
    for data, sim_s in sent[:2]:
        chain.process(data, sim_s)
    rest = cycle(sent[2:])
    benchmark.pedantic(chain.process, setup=lambda: (next(rest), {}), rounds=len(sent) - 2)


def test_datagram_to_notice(trace: FlightFrames, record_property: Callable[[str, object], None]) -> None:
    """Every switch thrown by a sender in another process gives its notice."""
    found = asyncio.run(latencies_s(trace, 120, 60.0))
    record_property("p99_ms", percentile(found, 99) * 1e3)
    assert len(found) == 60
