"""Prints the table of the benchmark: every case with its figures, its aim and the result.

Takes: a flight.  Gives: `Row`, and lines of at most 80 columns.
"""

from __future__ import annotations

import asyncio
import platform
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from tests.bench.flight_frames import FlightFrames, flight_trace
from tests.bench.latency import latencies_s, percentile
from tests.bench.measure import PlainRun, TemporalRun
from tests.bench.pipeline import FORMATS, time_pipeline
from tests.bench.snapshots import SNAPSHOT_INTERVAL, SnapshotRun

RULE_ENGINE_AIM, RTAMT_AIM, PYTHON_AIM, PIPELINE_AIM_US, LATENCY_AIM_US = 20.0, 10.0, 3.0, 150.0, 5000.0


@dataclass(frozen=True)
class Row:
    """One case: microseconds for a frame, ours and the peer's (None without a peer)."""

    case: str
    ours_us: float
    peer_us: float | None = None
    at_least: float | None = None
    at_most_us: float | None = None

    @property
    def ratio(self) -> float | None:
        """Ratio of the peer's time to ours."""
        return None if self.peer_us is None else self.peer_us / self.ours_us

    @property
    def aim(self) -> str:
        """The aim, as printed."""
        if self.at_least is not None:
            return f">= {self.at_least:.0f}x" if self.at_least >= 1 else f">= {self.at_least:.2f}x"
        return "" if self.at_most_us is None else f"< {self.at_most_us:.0f} µs"

    @property
    def met(self) -> str:
        """The result, as printed; '' without an aim."""
        if self.at_least is not None and self.ratio is not None:
            return "met" if self.ratio >= self.at_least else "NOT MET"
        return "" if self.at_most_us is None else "met" if self.ours_us < self.at_most_us else "NOT MET"

    def __str__(self) -> str:
        """Write the line."""
        peer = "" if self.peer_us is None else f"{self.peer_us:.1f}"
        ratio = (
            "" if self.ratio is None else f"{self.ratio:.2f}x" if self.ratio < 10 else f"{self.ratio:.0f}x"
        )
        return f"{self.case:<34}{self.ours_us:>9.1f}{peer:>10}{ratio:>8}{self.aim:>10}  {self.met}".rstrip()


HEAD = f"{'case':<34}{'ours':>9}{'peer':>10}{'ratio':>8}{'aim':>10}"


def machine_text() -> str:
    """Describe the machine in one line."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text().splitlines() if info.exists() else []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    name = names[0] if names else platform.processor() or platform.machine()
    return f"{name}, {len(names) or '?'} cores, {platform.system()}, Python {platform.python_version()}"


def library_versions() -> str:
    """List the peers' versions."""
    return ", ".join(f"{name} {version(name)}" for name in ("rule-engine", "cel-python", "rtamt"))


def plain_rows(trace: FlightFrames, every: int, passes: int) -> Iterator[Row | str]:
    """Measure the pack's conditions beside Python, rule-engine and CEL."""
    run = PlainRun(trace, every)
    run.run(passes)
    ours = run.ours.mean_us
    python, engine, cel = (run.peers[name].mean_us for name in run.peers)
    yield f"{len(run.conditions)} conditions without time ({run.compared:,} truths compared, all equal)"
    yield Row("  beside rule-engine", ours, engine, at_least=RULE_ENGINE_AIM)
    yield Row("  beside cel-python", ours, cel)
    yield Row("  beside hand-written Python", ours, python, at_least=1 / PYTHON_AIM)
    yield "The whole pack (peers: the conditions without time only)"
    yield Row("  monitors, beside rule-engine", run.all_conditions.mean_us, engine)
    yield Row("  judge, beside rule-engine", run.judge.mean_us, engine, at_least=RULE_ENGINE_AIM)
    yield Row("  judge, beside Python with update", run.judge.mean_us, run.hand_with_update.mean_us, at_least=1 / PYTHON_AIM)  # fmt: skip


def temporal_rows(trace: FlightFrames, passes: int) -> Iterator[Row | str]:
    """Measure conditions with time beside rtamt."""
    run = TemporalRun(trace)
    run.run(passes)
    yield f"{len(run.conditions)} conditions with time ({run.compared:,} truths compared, all equal)"
    yield Row("  beside rtamt online", run.ours.mean_us, run.theirs.mean_us, at_least=RTAMT_AIM)


def pipeline_rows(trace: FlightFrames, passes: int) -> Iterator[Row | str]:
    """Measure from bytes to events."""
    yield "Decode, map and judge, one core, median"
    for form in FORMATS:
        series = time_pipeline(trace, form, passes)
        yield Row(f"  {form}", series.median_us, at_most_us=PIPELINE_AIM_US)


def latency_rows(trace: FlightFrames, datagrams: int) -> Iterator[Row | str]:
    """Measure from the datagram to the notice."""
    found_us = [latency_s * 1e6 for latency_s in asyncio.run(latencies_s(trace, datagrams, 60.0))]
    yield f"Datagram to notice, UDP on loopback, 60 Hz, {len(found_us)} notices"
    yield Row("  median", percentile(found_us, 50))
    yield Row("  99th percentile", percentile(found_us, 99), at_most_us=LATENCY_AIM_US)


def snapshot_rows(trace: FlightFrames, passes: int) -> Iterator[Row | str]:
    """Measure the snapshot beside judging a frame."""
    run = SnapshotRun(trace)
    run.run(passes)
    judging = run.judging.mean_us
    yield f"Snapshots for screens, {len(run.interval.best_ns)} of them (peer: judge a frame)"
    yield Row("  judge a frame", judging)
    yield Row(f"  with one each {SNAPSHOT_INTERVAL}th frame", run.with_snapshots.mean_us, judging)
    yield Row(f"  snapshot of {SNAPSHOT_INTERVAL} frames", run.interval.mean_us, judging)
    yield Row("  snapshot after one change", run.one_change.mean_us, judging)
    yield Row("  full snapshot", run.full.mean_us, judging)


def rows(*, quick: bool) -> Iterator[Row | str]:
    """Measure every case; `quick` takes a tenth of the frames."""
    flight = flight_trace()
    part = flight.part(2500, 800) if quick else flight
    passes = 2 if quick else 3
    yield "µs for a frame; a departure, 340 signals in each frame, of which 30 change"
    yield from plain_rows(part, 16, passes)
    yield from temporal_rows(flight.part(2500, 300 if quick else 2500), passes)
    yield from snapshot_rows(part, passes)
    yield from pipeline_rows(part, passes)
    yield from latency_rows(flight, 240 if quick else 2400)
    rough = flight_trace(rough=True).part(2500, 800 if quick else 2500)
    yield "Rough: ten of the 30 are moved switches; about eight verdicts change in each"
    run = PlainRun(rough, 64)
    run.run(passes)
    yield Row("  conditions, beside rule-engine", run.ours.mean_us, run.peers["rule-engine"].mean_us)
    yield Row("  conditions, beside Python", run.ours.mean_us, run.peers["hand-written Python"].mean_us)
    yield Row("  msgpack: decode, map and judge", time_pipeline(rough, "msgpack", passes).median_us)


def print_table(*, quick: bool) -> None:
    """Print the table line by line."""
    for line in (machine_text(), library_versions(), "", HEAD):
        sys.stdout.write(line + "\n")
    for row in rows(quick=quick):
        sys.stdout.write(f"{row}\n")
        sys.stdout.flush()
