"""Measures memory over a million frames, from bytes to events.

A few minutes of the flight are repeated; only time and number in the bytes are overwritten, so that they continue.
Findings are counted as well, because the session keeps them by design.

Takes: the number of frames.  Gives: the resident memory of the process, and Python's own, after each tenth.
"""

from __future__ import annotations

import gc
import resource
import struct
import sys
import time
import tracemalloc
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.bench.flight_frames import RATE_HZ, FlightFrames
from tests.bench.pipeline import Pipeline, datagrams

_TIME_AT = 3 + 5 + 1
_NUMBER_AT = _TIME_AT + 8 + 9 + 1
_FIRST = 1 << 20
"""First number; from here on numbers take four bytes in MessagePack, so that they can be overwritten in place."""


def endless_datagrams(trace: FlightFrames) -> Iterator[tuple[float, bytes]]:
    """Repeat the datagrams of a flight without end."""
    records = [bytearray(pieces[0]) for _, pieces in datagrams(trace, "msgpack", first=_FIRST)]
    number = 0
    while True:
        for record in records:
            sim_s = number / RATE_HZ
            struct.pack_into(">d", record, _TIME_AT, sim_s)
            struct.pack_into(">I", record, _NUMBER_AT, (_FIRST + number) % 2**32)
            number += 1
            yield sim_s, bytes(record)


def resident_kb() -> int:
    """Read the resident memory of the process, in kB."""
    status = Path("/proc/self/statm")
    if status.exists():
        return int(status.read_text().split()[1]) * resource.getpagesize() // 1024
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most // 1024 if sys.platform == "darwin" else most


def run(trace: FlightFrames, frames: int, emit: Callable[[str], None]) -> None:
    """Process some frames and print memory after each tenth."""
    pipeline = Pipeline(trace, "msgpack")
    source = endless_datagrams(trace)
    began_s = time.monotonic()
    emit("     frames   resident kB    growth kB   findings   µs/frame")
    first = 0
    for tenth in range(11):
        for _ in range(frames // 10 if tenth else max(frames // 100, len(trace.frames) * 2)):
            sim_s, data = next(source)
            pipeline.process(data, sim_s)
        gc.collect()
        processed, now = pipeline.receiver.health.frames, resident_kb()
        first = first or now
        each_us = (time.monotonic() - began_s) / processed * 1e6
        emit(
            f"{processed:>11,} {now:>13,} {now - first:>12,} {len(pipeline.judge.findings):>10} {each_us:>10.0f}"
        )


def python_growth(trace: FlightFrames, frames: int, rounds: int) -> Iterator[int]:
    """Measure the growth of Python's objects in bytes over some frames, again and again: caches and windows of time fill first.

    The first frames are traced too: an object that is replaced later counts as freed only if it was counted as made.
    """
    pipeline = Pipeline(trace, "msgpack")
    source = endless_datagrams(trace)
    tracemalloc.start()
    try:
        for _ in range(max(frames, 2 * len(trace.frames))):
            sim_s, data = next(source)
            pipeline.process(data, sim_s)
        for _ in range(rounds):
            gc.collect()
            before, _ = tracemalloc.get_traced_memory()
            for _ in range(frames):
                sim_s, data = next(source)
                pipeline.process(data, sim_s)
            gc.collect()
            yield tracemalloc.get_traced_memory()[0] - before
    finally:
        tracemalloc.stop()
