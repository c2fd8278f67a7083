"""Whole flights of the mock aeroplane over a bad network: the batch judge gives the live events, to the byte."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import pytest

from adapters.factory import receiver_for
from mock_sim.run import Flight
from mock_sim.send.formats import encoder_for
from mock_sim.send.frames import FlightFrames
from mock_sim.send.network_faults import FaultInjector, NetworkFaults
from rules.packs.trip_values import STRIPS
from rules.signals.model import Frame
from tests.rules.judge.batch.compare_batch import (
    JudgeInput,
    RequestInput,
    TickInput,
    batch_events,
    live_events,
)
from tests.shipped import shipped

BAD = NetworkFaults(loss=0.05, jitter_s=0.08)
FORM = "msgpack"
Silences = Sequence[tuple[float, float]]


def _received(flight: Flight, pack_name: str, silences: Silences) -> list[JudgeInput]:
    """Inputs: frames, and a tick each second without frames."""
    receiver = receiver_for(shipped(pack_name)[0].signals, format_name=FORM, link="mock")
    encoder, injector, inputs = encoder_for(FORM), FaultInjector(BAD, 1), list[JudgeInput]()
    silent_s = 0.0
    for frame in FlightFrames(flight.scenario, flight, rate_hz=flight.rate_hz):
        for data in encoder.encode(frame.clock_s, frame.number, frame.fields):
            injector.add(frame.due_s, data)
        for recv_s, data in injector.due(frame.due_s):
            if not any(begin <= recv_s < end for begin, end in silences):
                inputs += receiver.receive(data, recv_s)
            elif recv_s >= silent_s + 1.0:
                silent_s = recv_s
                inputs.append(TickInput(recv_s))
    return inputs


def _after_clock_jump(inputs: Iterable[JudgeInput]) -> list[JudgeInput]:
    """The same frames after a jump of the simulator clock."""
    return [replace(each, epoch=1, recv_s=each.recv_s + 1e5) for each in inputs if isinstance(each, Frame)]


@pytest.mark.parametrize(
    ("scenario", "pack_name", "rate_hz", "slips", "events", "silences"),
    [
        ("departure", "twin_jet", 5.0, ["all"], [], [(100.0, 104.0), (300.0, 311.0)]),
        ("circuit", "trainer", 4.0, ["all"], [], [(200.0, 206.0)]),
        ("sector", "twin_jet", 1.0, ["demo"], ["go_around"], []),
    ],
)
def test_batch_and_live_judging_agree_on_a_flight(
    scenario: str,
    pack_name: str,
    rate_hz: float,
    slips: Iterable[str],
    events: Iterable[str],
    silences: Silences,
) -> None:
    """The batch judge gives the live events, with slips, events, noise, loss, gaps, a new trip sheet, a waiver and a jump."""
    pack, trip = shipped(pack_name)
    inputs = _received(Flight(scenario, slips, 3, events=events, rate_hz=rate_hz), pack_name, silences)
    third = len(inputs) // 3
    place = zip(STRIPS["trip.runway"], (317.0, 46.8, -21.4), strict=True)
    strip = ((name, value) for name, value in place if name in pack.signals)
    inputs.insert(third, RequestInput("amend", values=(("trip.qnh", 1003.0), ("trip.runway", "32"), *strip)))
    inputs.insert(2 * third, RequestInput("waive", next(iter(pack.items))))
    inputs += _after_clock_jump(inputs[:third])
    live = live_events(pack, trip, inputs)
    assert len(live) > 500
    assert batch_events(pack, trip, inputs) == live
