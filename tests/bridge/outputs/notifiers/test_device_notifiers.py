"""Tests of bridge.outputs.notifiers.device_notifiers: a whole session is told, and troubles are said as they come and go."""

from __future__ import annotations

from bridge.outputs.notifiers.base import KindFilter, SendError
from bridge.outputs.notifiers.device_notifiers import NotifierProblemLog, notify_from_devices
from bridge.outputs.notifiers.group import NotifierGroup
from bridge.outputs.notifiers.memory import MemoryNotifier
from bridge.runtime.registry import DeviceRegistry
from bridge.session.requests import Request
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, printed_text, text_console
from tests.bridge.outputs.notifiers.sample_messages import notice
from tests.contract.notifier_cases import ManualSleep
from tests.contract.waiting import ManualClock, wait_until


async def test_a_session_is_told_and_the_next_one_too(pack: Pack, clock: ManualClock) -> None:
    """Findings, notices and calls of both arrive as they were judged, each session with a word of its own."""
    rig, _ = device_on_memory_link(pack, clock)
    kept = MemoryNotifier(kind_filter=KindFilter(include=("notice", "finding", "call", "session")))
    console, sender = text_console(), FrameSender()
    async with notify_from_devices(DeviceRegistry([rig]), [kept], console, follow=True):
        rig.runner.session.receive(sender.datagram(0.0, {"lights.beacon": "off"}), clock())
        assert rig.handle(Request("call", "push_approved", "ground")).accepted
        rig.runner.session.receive(sender.datagram(1.0, {"lights.beacon": "off"}), clock())
        findings, notices = len(rig.journal.findings), len(rig.journal.notices)
        assert rig.handle(Request("start_session", "Second")).accepted
    kinds = [message.kind for message in kept.received]
    assert kinds.count("finding/opened") == findings > 0
    assert kinds.count("notice") == notices > 0
    assert kinds.count("call/entered") == 1
    sessions = [message.session for message in kept.received]
    assert len(set(sessions)) == 2
    begun = next(message for message in kept.received if message.session == sessions[-1])
    assert (begun.sequence, begun.kind, begun.body["change"]) == (1, "session/noted", "begun")
    assert printed_text(console) == f"TELL memory: closed, {len(kept.received)} sent"


async def test_troubles_are_said_once_as_they_come_and_go() -> None:
    """A line when it begins, none while it lasts, a line when it is over."""
    lines: list[str] = []
    errors: list[Exception | None] = [SendError("nobody is there"), SendError("nobody is there"), None]
    waits = ManualSleep()
    notifier = MemoryNotifier(error_for=lambda _: errors.pop(0), wait=waits)
    fan = NotifierGroup([notifier])
    troubles = NotifierProblemLog(fan, lines.append)
    async with fan:
        fan.feed()(notice())
        troubles.update(0.0)
        assert lines == []
        for count in (1, 2):
            await wait_until(lambda count=count: len(waits.requested_s) == count)  # type: ignore[misc]
            troubles.update(notifier.clock())
            waits.release()
        await wait_until(lambda: notifier.counts.delivered == 1)
        troubles.update(0.0)
    assert len(lines) == 2
    assert lines[0].startswith("TELL memory: nobody is there; trying again in ")
    assert lines[1] == "TELL memory: open, 1 sent"
