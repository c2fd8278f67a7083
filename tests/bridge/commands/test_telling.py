"""Tests of bridge.commands.telling: a whole session is told, and troubles are said as they come and go."""

from __future__ import annotations

from bridge.commands.telling import Troubles, telling
from bridge.control import Request
from bridge.floor import Floor
from bridge.notify.base import SendError, Wanted
from bridge.notify.fan import Fan
from bridge.notify.memory import MemoryNotifier
from rules.packs.model import Pack
from tests.bridge.making import Sender, paper, rig_of, text_of
from tests.bridge.notify.saying import notice
from tests.contract.until import Clock, until
from tests.contract.ways import Waits


async def test_a_session_is_told_and_the_next_one_too(pack: Pack, clock: Clock) -> None:
    """Findings, notices and calls of both arrive as they were judged, each session with a word of its own."""
    rig, _ = rig_of(pack, clock)
    kept = MemoryNotifier(wanted=Wanted(only=("notice", "finding", "call", "session")))
    console, sender = paper(), Sender()
    async with telling(Floor([rig]), [kept], console, follow=True):
        rig.run.session.take(sender.datagram(0.0, {"lights.beacon": "off"}), clock())
        assert rig.answer(Request("call", "push_approved", "ground")).done
        rig.run.session.take(sender.datagram(1.0, {"lights.beacon": "off"}), clock())
        findings, notices = len(rig.journal.findings), len(rig.journal.notices)
        assert rig.answer(Request("begin", "Second")).done
    kinds = [message.kind for message in kept.received]
    assert kinds.count("finding/opened") == findings > 0
    assert kinds.count("notice") == notices > 0
    assert kinds.count("call/entered") == 1
    sessions = [message.session for message in kept.received]
    assert len(set(sessions)) == 2
    begun = next(message for message in kept.received if message.session == sessions[-1])
    assert (begun.sequence, begun.kind, begun.body["change"]) == (1, "session/noted", "begun")
    assert text_of(console) == f"TELL memory: closed, {len(kept.received)} sent"


async def test_troubles_are_said_once_as_they_come_and_go() -> None:
    """A line when it begins, none while it lasts, a line when it is over."""
    lines: list[str] = []
    errors: list[Exception | None] = [SendError("nobody is there"), SendError("nobody is there"), None]
    waits = Waits()
    notifier = MemoryNotifier(refuse=lambda _: errors.pop(0), wait=waits)
    fan = Fan([notifier])
    troubles = Troubles(fan, lines.append)
    async with fan:
        fan.ear()(notice())
        troubles.look(0.0)
        assert lines == []
        for count in (1, 2):
            await until(lambda count=count: len(waits.asked) == count)  # type: ignore[misc]
            troubles.look(notifier.clock())
            waits.let_pass()
        await until(lambda: notifier.counts.sent == 1)
        troubles.look(0.0)
    assert len(lines) == 2
    assert lines[0].startswith("TELL memory: nobody is there; trying again in ")
    assert lines[1] == "TELL memory: open, 1 sent"
