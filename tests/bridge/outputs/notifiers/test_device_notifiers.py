"""Tests of bridge.outputs.notifiers.device_notifiers: messages of whole sessions, and lines about problems."""

from __future__ import annotations

from bridge.outputs.notifiers.base import KindFilter, SendError
from bridge.outputs.notifiers.device_notifiers import NotifierProblemLog, notify_from_devices
from bridge.outputs.notifiers.group import NotifierGroup
from bridge.outputs.notifiers.memory import MemoryNotifier
from bridge.runtime.registry import DeviceRegistry
from bridge.session.requests import Request
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, feed, printed_text, text_console
from tests.bridge.outputs.notifiers.sample_messages import notice
from tests.contract.notifier_cases import ManualSleep
from tests.contract.waiting import ManualClock, wait_until


async def test_messages_of_two_sessions(pack: Pack, clock: ManualClock) -> None:
    """Findings, notices and calls of both sessions arrive, each session with its own id."""
    device, _ = device_on_memory_link(pack, clock)
    memory = MemoryNotifier(kind_filter=KindFilter(include=("notice", "finding", "call", "session")))
    console, sender = text_console(), FrameSender()
    async with notify_from_devices(DeviceRegistry([device]), [memory], console, follow=True):
        feed(device, sender.datagram(0.0, {"lights.beacon": "off"}), clock())
        assert device.handle(Request("call", "push_approved", "ground")).accepted
        feed(device, sender.datagram(1.0, {"lights.beacon": "off"}), clock())
        findings, notices = len(device.journal.findings), len(device.journal.notices)
        assert device.handle(Request("start_session", "Second")).accepted
    kinds = [message.kind for message in memory.received]
    assert kinds.count("finding/opened") == findings > 0
    assert kinds.count("notice") == notices > 0
    assert kinds.count("call/entered") == 1
    sessions = [message.session for message in memory.received]
    assert len(set(sessions)) == 2
    started = next(message for message in memory.received if message.session == sessions[-1])
    assert (started.sequence, started.kind) == (1, "session/started")
    assert printed_text(console) == f"NOTIFY memory: closed, {len(memory.received)} sent"


async def test_a_problem_is_printed_when_it_begins_and_ends() -> None:
    """There is a line when a problem begins, none while it lasts, and a line when it ends."""
    lines: list[str] = []
    errors: list[Exception | None] = [SendError("connection refused"), SendError("connection refused"), None]
    waits = ManualSleep()
    notifier = MemoryNotifier(error_for=lambda _: errors.pop(0), wait=waits)
    group = NotifierGroup([notifier])
    problems = NotifierProblemLog(group, lines.append)
    async with group:
        group.feed()(notice())
        problems.update(0.0)
        assert lines == []
        for count in (1, 2):
            await wait_until(lambda count=count: len(waits.requested_s) == count)  # type: ignore[misc]
            problems.update(notifier.clock())
            waits.release()
        await wait_until(lambda: notifier.counts.delivered == 1)
        problems.update(0.0)
    assert len(lines) == 2
    assert lines[0].startswith("NOTIFY memory: connection refused; trying again in ")
    assert lines[1] == "NOTIFY memory: open, 1 sent"
