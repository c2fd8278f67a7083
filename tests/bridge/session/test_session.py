"""Tests of bridge.session.session: failing subscribers, and requests."""

from __future__ import annotations

import structlog
from structlog.testing import capture_logs

from bridge.session.event_bus import MAX_FAILURES
from bridge.session.journal import Journal
from bridge.session.requests import Request
from bridge.session.session_events import KINDS, SessionEvent
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, feed
from tests.contract.waiting import ManualClock


class FailingSubscriber:
    """A subscriber that raises and counts its calls."""

    def __init__(self) -> None:
        """Start with no call."""
        self.calls = 0

    def __call__(self, _entry: SessionEvent) -> None:
        """Raise."""
        self.calls += 1
        raise RuntimeError("the speaker is unplugged")


def test_a_failing_subscriber_is_logged_and_left_out(pack: Pack, clock: ManualClock) -> None:
    """A subscriber that always raises is logged each time, left out after its limit, and does not stop the others."""
    structlog.reset_defaults()
    device, _ = device_on_memory_link(pack, clock)
    failing, after, sender = FailingSubscriber(), Journal(), FrameSender()
    device.bus.subscribe(failing, *KINDS)
    device.bus.subscribe(after, *Journal.EVENTS)
    with capture_logs() as logs:
        for second in range(40):
            beacon = "on" if second % 2 else "off"
            feed(device, sender.datagram(second, {"lights.beacon": beacon}, push_approved=0.5), second)
    assert failing.calls == MAX_FAILURES
    assert [entry["event"] for entry in logs] == ["subscriber failed"] * MAX_FAILURES + [
        "subscriber left out until the next session"
    ]
    assert logs[0]["subscriber"] == "FailingSubscriber"
    assert "unplugged" in logs[0]["why"]
    assert after.findings == device.journal.findings
    assert after.findings
    assert device.session.snapshot().sim_s == 39


def test_a_subscriber_that_fails_at_times_is_not_left_out(pack: Pack, clock: ManualClock) -> None:
    """Only failures in a row count towards the limit."""
    structlog.reset_defaults()
    device, _ = device_on_memory_link(pack, clock)
    calls: list[int] = []

    def fails_twice_in_three(_entry: SessionEvent) -> None:
        calls.append(len(calls))
        if len(calls) % 3:
            raise RuntimeError("not now")

    device.bus.subscribe(fails_twice_in_three, *KINDS)
    sender = FrameSender()
    with capture_logs() as logs:
        for second in range(60):
            beacon = "on" if second % 2 else "off"
            feed(device, sender.datagram(second, {"lights.beacon": beacon}), second)
    assert len(calls) > MAX_FAILURES
    assert "subscriber left out" not in [entry["event"] for entry in logs]


def test_bytes_that_are_no_record_are_counted_and_ignored(pack: Pack, clock: ManualClock) -> None:
    """Garbage raises no error and reaches no subscriber; the next valid datagram is judged."""
    device, _ = device_on_memory_link(pack, clock)
    for data in (b"", b"\xff" * 60_000, b"\x81", b"fuel,total"):
        feed(device, data, 1.0)
    assert device.journal.phases == []
    assert device.source.health.rejected == 4
    feed(device, FrameSender().datagram(0.0), 1.0)
    assert [phase.phase for phase in device.journal.phases] == ["stand"]


def test_requests_are_accepted_or_refused_with_a_hint(pack: Pack, clock: ManualClock) -> None:
    """A call, confirmation or waiver is accepted; an unknown name is refused with a hint."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(0.0), 1.0)
    replies = [
        device.handle(Request("call", "push_approved", "ground")),
        device.handle(Request("confirm", "flow.before.documents", "captain")),
        device.handle(Request("waive", "flow.before.pressure", "instructor", "pump out of service")),
    ]
    assert [reply.accepted for reply in replies] == [True, True, True]
    assert device.journal.calls[0].by == "ground"
    refused = device.handle(Request("call", "push_aproved"))
    assert not refused.accepted
    assert "did you mean push_approved?" in refused.text
    without_reason = device.handle(Request("waive", "flow.before.beacon", "instructor"))
    assert not without_reason.accepted
    assert "reason" in without_reason.text
    refused_confirmation = device.handle(Request("confirm", "flow.before.beacon"))
    assert not refused_confirmation.accepted
    assert "a signal shows" in refused_confirmation.text
