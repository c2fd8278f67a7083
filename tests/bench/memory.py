"""Memory over a million frames: from bytes to entries, with a clock that goes on.

Some minutes of the flight go round and round; only clock and number are written anew into the bytes.  What the session
records by design (findings) is counted, because that may grow.

Takes: how many frames.  Gives: the process's resident memory, and Python's own, after each tenth.
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
"""Numbers from here on take four bytes, so that they can be written over."""


def endless_datagrams(trace: FlightFrames) -> Iterator[tuple[float, bytes]]:
    """Datagrams without end."""
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
    """The process's resident memory in kB."""
    status = Path("/proc/self/statm")
    if status.exists():
        return int(status.read_text().split()[1]) * resource.getpagesize() // 1024
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most // 1024 if sys.platform == "darwin" else most


def run(trace: FlightFrames, frames: int, emit: Callable[[str], None]) -> None:
    """Feed so many frames and print memory after each tenth."""
    chain = Pipeline(trace, "msgpack")
    source = endless_datagrams(trace)
    began_s = time.monotonic()
    emit("     frames   resident kB    growth kB   findings   µs/frame")
    first = 0
    for tenth in range(11):
        for _ in range(frames // 10 if tenth else max(frames // 100, len(trace.frames) * 2)):
            sim_s, data = next(source)
            chain.process(data, sim_s)
        gc.collect()
        done, now = chain.receiver.health.frames, resident_kb()
        first = first or now
        each_us = (time.monotonic() - began_s) / done * 1e6
        emit(f"{done:>11,} {now:>13,} {now - first:>12,} {len(chain.judge.findings):>10} {each_us:>10.0f}")


def python_growth(trace: FlightFrames, frames: int) -> int:
    """Bytes that Python's own objects grew by over so many frames, after two rounds to fill what fills up."""
    chain = Pipeline(trace, "msgpack")
    source = endless_datagrams(trace)
    for _ in range(2 * len(trace.frames)):
        sim_s, data = next(source)
        chain.process(data, sim_s)
    gc.collect()
    tracemalloc.start()
    before, _ = tracemalloc.get_traced_memory()
    for _ in range(frames):
        sim_s, data = next(source)
        chain.process(data, sim_s)
    gc.collect()
    after, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return after - before
