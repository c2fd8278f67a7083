"""Tests of bridge.session.event_bus: the contract of the bus, without and with a device."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import structlog
from structlog.testing import capture_logs

from bridge.runtime.device_events import RunnerTicked, SessionCreated
from bridge.session.event_bus import MAX_FAILURES, EventBus, StepEvents
from bridge.session.requests import Request
from bridge.session.session_events import (
    KINDS,
    RemarkAdded,
    RequestedChange,
    SessionChange,
    SessionEnded,
    SessionEvent,
    SessionStarted,
)
from bridge.session.session_input import InputReceived
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, feed
from tests.contract.waiting import ManualClock

REMARK, END = RemarkAdded(1.0, 2.0, "first"), SessionEnded(1.0, 2.0)


@pytest.fixture(autouse=True)
def _default_log() -> None:
    """Let `capture_logs` see the log."""
    structlog.reset_defaults()


def collector(received: list[tuple[str, object]], name: str) -> Callable[[object], None]:
    """Return a subscriber that collects its events under a name."""
    return lambda event: received.append((name, event))


def failing(_: object) -> None:
    """Raise."""
    raise RuntimeError("unplugged")


def test_a_subscriber_gets_the_events_of_its_types_only() -> None:
    """Events reach the subscribers of exactly their type."""
    bus, received = EventBus(), list[object]()
    bus.subscribe(received.append, RemarkAdded, RunnerTicked)
    for event in (REMARK, END, RunnerTicked(3.0)):
        bus.publish(event)
    assert received == [REMARK, RunnerTicked(3.0)]


def test_durable_subscribers_come_first_then_the_order_of_subscription() -> None:
    """Each event reaches durable subscribers first; within a group the order is that of subscription."""
    bus, received = EventBus(), list[tuple[str, object]]()
    for name, durable in (("a", False), ("b", True), ("c", False), ("d", True)):
        bus.subscribe(collector(received, name), RemarkAdded, durable=durable)
    bus.publish(REMARK)
    assert [name for name, _ in received] == ["b", "d", "a", "c"]


def test_a_durable_subscriber_has_the_whole_step_before_anybody_gets_an_event() -> None:
    """The events of a step are published together, then each one to all of its subscribers."""
    bus, received = EventBus(), list[tuple[str, object]]()
    bus.subscribe(collector(received, "screen"), RemarkAdded, SessionEnded)
    bus.subscribe(collector(received, "page"), RemarkAdded)
    bus.subscribe(collector(received, "spool"), StepEvents, durable=True)
    bus.publish_step([REMARK, END])
    assert received == [
        ("spool", StepEvents([REMARK, END])),
        ("screen", REMARK),
        ("page", REMARK),
        ("screen", END),
    ]


def test_a_failing_subscriber_is_counted_named_and_left_out() -> None:
    """It is named in the log each time and left out after its limit; the others get every event."""
    bus, received = EventBus(), list[object]()
    bus.subscribe(failing, RemarkAdded)
    bus.subscribe(received.append, RemarkAdded)
    with capture_logs() as logs:
        for _ in range(MAX_FAILURES + 5):
            bus.publish(REMARK)
    assert [entry["event"] for entry in logs] == ["subscriber failed"] * MAX_FAILURES + [
        "subscriber left out until the next session"
    ]
    assert [entry.get("in_a_row") for entry in logs[:-1]] == list(range(1, MAX_FAILURES + 1))
    assert {entry["subscriber"] for entry in logs} == {"failing"}
    assert (logs[0]["type"], logs[0]["why"]) == ("RemarkAdded", "RuntimeError('unplugged')")
    assert all(entry["exc_info"].args == ("unplugged",) for entry in logs[:-1])
    assert received == [REMARK] * (MAX_FAILURES + 5)
    assert bus.subscribers(RemarkAdded) == [received.append.__qualname__]


@pytest.mark.parametrize("types", [(), (RemarkAdded, RemarkAdded), (SessionChange,), (RequestedChange,)])
def test_types_of_which_no_event_would_come_are_refused(types: tuple[type, ...]) -> None:
    """A subscription to nothing, twice to a type, or to a base of types is a mistake of its author."""
    with pytest.raises(ValueError, match=r"needs the types|named twice|name the types below"):
        EventBus().subscribe(print, *types)


def test_every_kind_of_event_can_be_subscribed_to() -> None:
    """No type that is published is the base of another."""
    EventBus().subscribe(print, *KINDS)


def test_a_success_starts_the_count_again() -> None:
    """Only failures in a row count."""
    bus, calls = EventBus(), list[object]()

    def fails_often(event: object) -> None:
        calls.append(event)
        if len(calls) % MAX_FAILURES:
            raise RuntimeError("not now")

    bus.subscribe(fails_often, RemarkAdded)
    for _ in range(3 * MAX_FAILURES):
        bus.publish(REMARK)
    assert len(calls) == 3 * MAX_FAILURES


def test_a_durable_subscriber_is_never_left_out() -> None:
    """What fails to write tries again at each event."""
    bus, calls = EventBus(), list[object]()

    def full_disk(event: object) -> None:
        calls.append(event)
        raise OSError("no room")

    bus.subscribe(full_disk, StepEvents, durable=True)
    with capture_logs() as logs:
        for _ in range(2 * MAX_FAILURES):
            bus.publish_step([])
    assert len(calls) == len(logs) == 2 * MAX_FAILURES


def test_the_next_session_ends_subscriptions_for_one_session_and_calls_the_others_again() -> None:
    """Subscriptions for one session end, others last, and one that was left out gets another chance."""
    bus, received = EventBus(), list[tuple[str, object]]()
    bus.subscribe(collector(received, "always"), RemarkAdded)
    bus.subscribe(collector(received, "once"), RemarkAdded, one_session=True)
    broken = bus.subscribe(failing, SessionEnded)
    for _ in range(MAX_FAILURES):
        bus.publish(END)
    assert broken.left_out
    bus.begin_session()
    assert broken.failures == 0
    bus.publish(REMARK)
    assert received == [("always", REMARK)]


def test_a_subscriber_may_publish() -> None:
    """An event that a subscriber publishes is delivered at once."""
    bus, received = EventBus(), list[object]()
    bus.subscribe(lambda _: bus.publish(REMARK), RunnerTicked)
    bus.subscribe(received.append, RunnerTicked, RemarkAdded)
    bus.publish(RunnerTicked(1.0))
    assert received == [REMARK, RunnerTicked(1.0)]


def test_the_order_of_a_device(pack: Pack, clock: ManualClock) -> None:
    """An input comes before its step, the step before its events; a later session reaches the same subscriber."""
    device, _ = device_on_memory_link(pack, clock)
    types: list[type] = []
    device.bus.subscribe(lambda event: types.append(type(event)), InputReceived, StepEvents, *KINDS)
    device.bus.subscribe(lambda event: types.append(type(event)), SessionCreated, RunnerTicked)
    device.handle(Request("remark", "", "instructor", "a good start"))
    assert types == [InputReceived, StepEvents, RemarkAdded]
    types.clear()
    device.handle(Request("start_session", "Second"))
    assert types == [InputReceived, StepEvents, SessionEnded, SessionCreated, StepEvents, SessionStarted]
    types.clear()
    device.runner.tick()
    assert types == [RunnerTicked]


def test_the_ended_session_reaches_its_own_subscribers_only(pack: Pack, clock: ManualClock) -> None:
    """What subscribed for one session gets its end, and nothing of the next session."""
    device, _ = device_on_memory_link(pack, clock)
    events: list[SessionEvent] = []
    device.bus.subscribe(events.append, *KINDS, one_session=True)
    before = device.bus.subscribers(RemarkAdded)
    device.handle(Request("start_session", "Second"))
    feed(device, FrameSender().datagram(0.0), clock())
    device.handle(Request("remark", "", "instructor", "later"))
    assert [type(event) for event in events] == [SessionEnded]
    assert before == [*device.bus.subscribers(RemarkAdded), "list.append"]


def test_a_failing_tick_does_not_end_the_run(pack: Pack, clock: ManualClock) -> None:
    """A subscriber of ticks that raises is counted like any other."""
    device, _ = device_on_memory_link(pack, clock)
    device.bus.subscribe(failing, RunnerTicked)
    seen: list[object] = []
    device.bus.subscribe(seen.append, RunnerTicked)
    with capture_logs() as logs:
        device.runner.tick()
    assert len(seen) == 1
    assert [entry["subscriber"] for entry in logs] == ["failing"]
