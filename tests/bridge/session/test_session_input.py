"""Tests of the inputs that a session passes to its input listeners."""

from __future__ import annotations

import structlog
from structlog.testing import capture_logs

from bridge.session.requests import Request, Verb
from bridge.session.session_events import RemarkAdded, SessionEvent
from bridge.session.session_input import ClockTick, TimedInput
from rules.judge.items import verdict_of
from rules.packs.model import Pack
from rules.signals.model import Frame
from tests.bridge.builders import FrameSender, device_on_memory_link
from tests.contract.waiting import ManualClock


def test_inputs_come_before_what_they_bring_about(pack: Pack, clock: ManualClock) -> None:
    """A frame, a request and an expiring tick reach the listeners in order, each before its events."""
    device, _ = device_on_memory_link(pack, clock)
    heard: list[TimedInput | SessionEvent] = []
    device.session.input_listeners.append(heard.append)
    device.add_listener(heard.append)
    device.session.receive(FrameSender().datagram(0.0), clock())
    device.handle(Request("call", "push_approved"))
    device.session.tick(clock() + 0.25)
    device.session.tick(clock() + 600)
    device.session.tick(clock() + 601)
    assert isinstance(heard[0], TimedInput)
    inputs = [one.content for one in heard if isinstance(one, TimedInput)]
    assert [type(what) for what in inputs] == [Frame, Request, ClockTick]
    assert inputs[-1] == ClockTick(clock() + 600)
    assert not isinstance(heard[-1], TimedInput)


def test_a_request_that_is_refused_is_heard_too(pack: Pack, clock: ManualClock) -> None:
    """What was asked and not done is an input like any other."""
    device, _ = device_on_memory_link(pack, clock)
    heard: list[TimedInput] = []
    device.session.input_listeners.append(heard.append)
    assert not device.handle(Request("undo_call", "push_approved")).accepted
    assert [one.content for one in heard] == [Request("undo_call", "push_approved")]


def test_a_note_has_the_moment_of_its_request(pack: Pack, clock: ManualClock) -> None:
    """The clock is read once for a request: its events have the same time, to the microsecond."""
    device, _ = device_on_memory_link(pack, clock)
    heard: list[TimedInput] = []
    told: list[SessionEvent] = []
    device.session.input_listeners.append(heard.append)
    device.add_listener(told.append)
    device.handle(Request("remark", "", "instructor", "a good start"))
    assert isinstance(told[0], RemarkAdded)
    assert told[0].utc == heard[0].utc == round(heard[0].utc, 6)


def test_a_keeper_that_fails_stops_nothing(pack: Pack, clock: ManualClock) -> None:
    """An input that could not be recorded is logged and judged."""
    structlog.reset_defaults()
    device, _ = device_on_memory_link(pack, clock)

    def broken(_: TimedInput) -> None:
        raise RuntimeError("no room")

    device.session.input_listeners.append(broken)
    with capture_logs() as logs:
        device.session.receive(FrameSender().datagram(0.0), clock())
    assert [entry["event"] for entry in logs] == ["input not recorded"]
    assert device.journal.phases


def beacon(rig_pack: Pack, clock: ManualClock, verbs: tuple[Verb, Verb]) -> str:
    """What is known of the beacon after it was switched off between two requests, and frames went on."""
    device, _ = device_on_memory_link(rig_pack, clock)
    sender = FrameSender()
    device.session.receive(sender.datagram(0.0), clock())
    device.handle(Request(verbs[0], ""))
    device.session.receive(sender.datagram(1.0, {"lights.beacon": "off"}), clock())
    device.handle(Request(verbs[1], ""))
    device.session.receive(sender.datagram(2.0, {"lights.beacon": "off"}), clock())
    return verdict_of(device.session.judge.items.states["flow.before.beacon"].truth)


def test_what_changes_in_a_pause_is_known_after_it(pack: Pack, clock: ManualClock) -> None:
    """A switch that moved during a pause has its new value afterwards."""
    assert beacon(pack, clock, ("pause", "resume")) == "unmet"


def test_the_next_session_knows_what_no_longer_changes(pack: Pack, clock: ManualClock) -> None:
    """A session that starts on an open link gets all values, also unchanged ones."""
    device, _ = device_on_memory_link(pack, clock)
    sender = FrameSender()
    device.session.receive(sender.datagram(0.0), clock())
    device.handle(Request("start_session", "second"))
    device.session.receive(sender.datagram(1.0), clock())
    assert verdict_of(device.session.judge.items.states["flow.before.beacon"].truth) == "met"
