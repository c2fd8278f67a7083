"""Measures the time from a datagram to its notice, with a sender in another process and UDP on loopback.

Takes: the number of datagrams and their rate.  Gives: the time from before the encoding of each datagram to its notice.
"""

from __future__ import annotations

import asyncio
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from itertools import chain, islice
from pathlib import Path

import msgspec

from adapters.factory import receiver_for
from adapters.links.udp import UdpLink
from rules.judge.condition_ids import monitored_conditions
from rules.judge.events import Notice
from rules.judge.judge import Judge
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.signals.model import Signal, SignalKind, Value
from tests.bench.flight_frames import SIGNALS, FlightFrames
from tests.bench.sender import SEND_TIME_FIELD, Load
from tests.bench.temporal import signals_of

WATCHES = 12


def switches_of(trace: FlightFrames) -> list[Signal]:
    """Choose switches that the pack does not read, so that moving them causes only our own notice."""
    read = signals_of(monitored_conditions(trace.pack))
    switches = [s for s in trace.pack.signals.values() if s.kind is SignalKind.SWITCH]
    return [s for s in switches if s.name not in read and not s.name.startswith("sim.")][:WATCHES]


def pack_with_watches(trace: FlightFrames) -> Pack:
    """Load the twin jet's pack with an additional watch on each of these switches."""
    lines = ["pack: {id: bench, title: Bench, extends: twin_jet}", "watches:"]
    for number, switch in enumerate(switches_of(trace)):
        expect = f"{switch.name} is {switch.words[0]}"
        lines.append(
            f"  bench_{number}: {{label: Bench, seat: captain, level: warning, expect: {expect}, hold: 0 s, clear: 0 s}}"
        )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.yaml"
        path.write_text("\n".join(lines))
        return load_pack(str(path), trip=trace.trip)


def on_wire(trace: FlightFrames) -> dict[str, Signal]:
    """Choose 340 signals that include these switches."""
    switches = {switch.name: switch for switch in switches_of(trace)}
    others = {name: signal for name, signal in trace.signals.items() if name not in switches}
    return dict(islice(chain(switches.items(), others.items()), SIGNALS))


async def latencies_s(trace: FlightFrames, datagrams: int, rate_hz: float) -> list[float]:
    """Measure the seconds from sending to the notice, for each time that a switch moves.

    Raises:
        AssertionError: A notice is missing.
    """
    pack = pack_with_watches(trace)
    receiver, core = receiver_for(on_wire(trace), calls=pack.calls), Judge(pack, trace.trip)
    found: list[float] = []
    async with UdpLink("127.0.0.1", 0) as link:
        sender = await _start(trace, link.port, datagrams, rate_hz)
        async with asyncio.timeout(datagrams / rate_hz + 30):
            async for datagram in link:
                for frame in receiver.receive(datagram.data, datagram.recv_s):
                    shown = any(
                        isinstance(e, Notice) and e.item.startswith("watch.bench_")
                        for e in core.judge_frame(frame)
                    )
                    now_s = time.monotonic()
                    if shown:
                        found.append(now_s - msgspec.msgpack.decode(datagram.data)[SEND_TIME_FIELD])
                if receiver.health.frames + receiver.sequence.counts.lost >= datagrams:
                    break
        await sender.wait()
    if not datagrams // 2 - receiver.sequence.counts.lost <= len(found) <= datagrams // 2:
        raise AssertionError(f"{len(found)} notices for {datagrams // 2} throws; {receiver.health.as_dict()}")
    return found


async def _start(
    trace: FlightFrames, port: int, datagrams: int, rate_hz: float
) -> asyncio.subprocess.Process:
    """Start the sender and pass its fields to it."""
    values: dict[str, Value | None] = dict.fromkeys(f"call.{name}" for name in trace.pack.calls)
    signals = on_wire(trace)
    shown = next(trace.values())
    values |= {
        name: shown.get(name, signal.words[0] if signal.words else 0.0) for name, signal in signals.items()
    }
    values |= {switch.name: switch.words[0] for switch in switches_of(trace)}
    load = Load(values, [(s.name, s.words[0], s.words[1]) for s in switches_of(trace)])
    arguments = ("-m", "tests.bench.sender", str(port), str(datagrams), str(rate_hz))
    sender = await asyncio.create_subprocess_exec(sys.executable, *arguments, stdin=subprocess.PIPE)
    if sender.stdin is None:
        raise AssertionError("the sender has no input")
    sender.stdin.write(msgspec.json.encode(load))
    sender.stdin.close()
    return sender


def percentile(values: Sequence[float], percent: int) -> float:
    """Give the percentile of some values."""
    return statistics.quantiles(values, n=100, method="inclusive")[percent - 1]
