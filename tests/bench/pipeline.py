"""Decodes, maps and judges one datagram after the other on one core, from bytes to events.

Takes: a flight, a format.  Gives: `Pipeline`, the datagrams of the flight, and their times.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

from adapters.decoders.base import RawValue
from adapters.decoders.struct_layout import default_layout
from adapters.factory import encoder_for, receiver_for
from adapters.receiver import Receiver
from rules.judge.events import JudgeEvent
from rules.judge.judge import Judge
from tests.bench.flight_frames import FlightFrames
from tests.bench.measure import PASSES, Series, freeze_heap

FORMATS = ("labelled_csv", "json", "msgpack", "packed_struct")


class Pipeline:
    """A receiver and a judge, one after the other."""

    def __init__(self, trace: FlightFrames, form: str) -> None:
        self.receiver: Receiver = receiver_for(trace.signals, format_name=form, calls=trace.pack.calls)
        self.judge = Judge(trace.pack, trace.trip)

    def process(self, data: bytes, recv_s: float) -> list[JudgeEvent]:
        """Process one datagram and give the judge's events."""
        return [
            event for frame in self.receiver.receive(data, recv_s) for event in self.judge.judge_frame(frame)
        ]


def datagrams(trace: FlightFrames, form: str, first: int = 0) -> Iterator[tuple[float, list[bytes]]]:
    """Encode each frame, numbered from `first`, with all signals and a field for every call of the pack."""
    layout = default_layout(trace.signals, trace.pack.calls) if form == "packed_struct" else None
    encoder = encoder_for(form, table=layout)
    calls: dict[str, RawValue] = {f"call.{name}": None for name in trace.pack.calls}
    for number, (frame, values) in enumerate(zip(trace.frames, trace.values(), strict=True)):
        calls.update({f"call.{name}": frame.sim_s for name in frame.calls})
        fields: dict[str, RawValue] = {name: values[name] for name in trace.signals}
        yield frame.sim_s, encoder.encode(frame.sim_s, first + number, fields | calls)


def time_pipeline(trace: FlightFrames, form: str, passes: int = PASSES) -> Series:
    """Measure each frame in one format, except the first, which binds every field."""
    sent = [(sim_s, data) for sim_s, pieces in datagrams(trace, form) for data in pieces]
    series = Series()
    freeze_heap()
    for _ in range(passes):
        pipeline = Pipeline(trace, form)
        for number, (sim_s, data) in enumerate(sent):
            began = time.perf_counter_ns()
            pipeline.process(data, sim_s)
            if number > 1:
                series.add(number, time.perf_counter_ns() - began)
        health = pipeline.receiver.health
        if health.frames != len(trace.frames) or health.rejected:
            raise AssertionError(f"{form}: {health.frames} of {len(trace.frames)} frames")
    return series
