"""Tests of the inputs that a session publishes before it judges them."""

from __future__ import annotations

from dataclasses import replace

import structlog
from structlog.testing import capture_logs

from bridge.session.requests import Request, Verb
from bridge.session.session_events import KINDS, RemarkAdded, SessionEvent
from bridge.session.session_input import ClockTick, InputReceived
from rules.judge.events import DataMissing
from rules.packs.model import Pack
from rules.signals.model import Frame
from tests.bridge.builders import FrameSender, device_on_memory_link, feed
from tests.contract.waiting import ManualClock


def test_each_input_comes_before_its_events(pack: Pack, clock: ManualClock) -> None:
    """A frame, a request and a tick with effect reach the subscribers in order, each before its events."""
    device, _ = device_on_memory_link(pack, clock)
    received: list[InputReceived | SessionEvent] = []
    device.bus.subscribe(received.append, InputReceived, *KINDS)
    feed(device, FrameSender().datagram(0.0), clock())
    device.handle(Request("call", "push_approved"))
    device.session.tick(clock() + 0.25)
    device.session.tick(clock() + 600)
    device.session.tick(clock() + 601)
    assert isinstance(received[0], InputReceived)
    inputs = [entry.content for entry in received if isinstance(entry, InputReceived)]
    assert [type(content) for content in inputs] == [Frame, Request, ClockTick]
    assert inputs[-1] == ClockTick(clock() + 600)
    assert not isinstance(received[-1], InputReceived)


def test_a_refused_request_is_an_input_too(pack: Pack, clock: ManualClock) -> None:
    """A refused request is published too."""
    device, _ = device_on_memory_link(pack, clock)
    inputs: list[InputReceived] = []
    device.bus.subscribe(inputs.append, InputReceived)
    assert not device.handle(Request("undo_call", "push_approved")).accepted
    assert [each.content for each in inputs] == [Request("undo_call", "push_approved")]


def test_an_event_has_the_time_of_its_request(pack: Pack, clock: ManualClock) -> None:
    """A request and its events have the same time, to the microsecond, from one reading of the clock."""
    device, _ = device_on_memory_link(pack, clock)
    inputs: list[InputReceived] = []
    events: list[SessionEvent] = []
    device.bus.subscribe(inputs.append, InputReceived)
    device.bus.subscribe(events.append, *KINDS)
    device.handle(Request("remark", "", "instructor", "a good start"))
    assert isinstance(events[0], RemarkAdded)
    assert events[0].utc == inputs[0].utc == round(inputs[0].utc, 6)


def test_a_failing_recorder_stops_nothing(pack: Pack, clock: ManualClock) -> None:
    """An input that could not be recorded is logged and still judged."""
    structlog.reset_defaults()
    device, _ = device_on_memory_link(pack, clock)

    def failing_recorder(_: InputReceived) -> None:
        raise RuntimeError("no room")

    device.bus.subscribe(failing_recorder, InputReceived, durable=True)
    with capture_logs() as logs:
        feed(device, FrameSender().datagram(0.0), clock())
    assert [entry["event"] for entry in logs] == ["subscriber failed"]
    assert device.journal.phases


def beacon_verdict(pack: Pack, clock: ManualClock, verbs: tuple[Verb, Verb]) -> str:
    """Return the beacon's verdict after it was switched off between two requests and more frames arrived."""
    device, _ = device_on_memory_link(pack, clock)
    sender = FrameSender()
    feed(device, sender.datagram(0.0), clock())
    device.handle(Request(verbs[0], ""))
    feed(device, sender.datagram(1.0, {"lights.beacon": "off"}), clock())
    device.handle(Request(verbs[1], ""))
    feed(device, sender.datagram(2.0, {"lights.beacon": "off"}), clock())
    return device.session.snapshot().items["flow.before.beacon"].verdict


def test_a_change_during_a_pause_is_known_after_it(pack: Pack, clock: ManualClock) -> None:
    """A switch that moved during a pause has its new value afterwards."""
    assert beacon_verdict(pack, clock, ("pause", "resume")) == "unmet"


def test_a_new_session_gets_unchanged_values_too(pack: Pack, clock: ManualClock) -> None:
    """A session that starts on an open link gets all values, also unchanged ones."""
    device, _ = device_on_memory_link(pack, clock)
    sender = FrameSender()
    feed(device, sender.datagram(0.0), clock())
    device.handle(Request("start_session", "second"))
    feed(device, sender.datagram(1.0), clock())
    assert device.session.snapshot().items["flow.before.beacon"].verdict == "met"


def test_the_time_of_a_pause_is_missing_and_its_calls_count(pack: Pack, clock: ManualClock) -> None:
    """What came in a pause was not judged: that is a gap like any other, and a call in it counts after it."""
    device, _ = device_on_memory_link(pack, clock)
    sender, inputs = FrameSender(), list[Frame]()
    events: list[SessionEvent] = []
    device.bus.subscribe(events.append, *KINDS)
    device.bus.subscribe(
        lambda entry: inputs.append(entry.content) if isinstance(entry.content, Frame) else None,
        InputReceived,
    )
    feed(device, sender.datagram(0.0), clock())
    device.handle(Request("pause", ""))
    for at_s in (1.0, 2.0, 3.0):
        feed(device, sender.datagram(at_s, push_approved=2.0), clock())
    device.handle(Request("resume", ""))
    feed(device, sender.datagram(4.0, push_approved=2.0), clock())
    assert [(frame.sim_s, frame.missing_from_s, tuple(frame.calls)) for frame in inputs] == [
        (0.0, None, ()),
        (4.0, 1.0, ("push_approved",)),
    ]
    assert [event.from_s for event in events if isinstance(event, DataMissing)] == [1.0]
    assert device.session.snapshot().calls == {"push_approved"}


def test_a_reset_in_a_pause_leaves_nothing_missing(pack: Pack, clock: ManualClock) -> None:
    """After a jump back of the clock in a pause only what came since then is missing."""
    device, _ = device_on_memory_link(pack, clock)
    frame = Frame("test", 500.0, 0.0, 0, (), ())
    device.session.judge_frame(frame)
    device.handle(Request("pause", ""))
    device.session.judge_frame(replace(frame, sim_s=501.0, calls=("push_approved",)))
    device.session.judge_frame(replace(frame, sim_s=3.0, epoch=1))
    device.handle(Request("resume", ""))
    events: list[SessionEvent] = []
    device.bus.subscribe(events.append, *KINDS)
    device.session.judge_frame(replace(frame, sim_s=5.0, epoch=1))
    assert not any(isinstance(event, DataMissing) for event in events)
    assert device.session.snapshot().calls == set()
