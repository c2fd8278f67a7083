"""Contract of every notifier, ours and those of other packages; `notifier_cases` lists them.

Takes: `NOTIFIERS`.  Gives: tests of order, outages, limits and the end.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

import pytest

from bridge.outputs.notifiers.base import DeliveryLimits, KindFilter
from bridge.outputs.notifiers.envelope import Envelope
from bridge.outputs.notifiers.group import NotifierFeed, NotifierGroup
from bridge.outputs.notifiers.memory import MemoryNotifier
from rules.judge.events import Finding, FindingChanged, FindingOpened, JudgeEvent, Notice
from rules.packs.model import FindingKind, Level
from tests.contract.notifier_cases import NOTIFIERS, Maker, NotifierCase, NotifierControls
from tests.contract.waiting import wait_until

LEVELS = tuple(Level)


@pytest.fixture(params=list(NOTIFIERS.values()), ids=list(NOTIFIERS))
def make(request: pytest.FixtureRequest) -> Maker:
    """Give each notifier in turn."""
    maker: Maker = request.param
    return maker


def notice(number: int) -> Notice:
    """Make a notice that differs by its number."""
    level = LEVELS[number % 3]
    return Notice(
        float(number), level, "captain", f"flow.before.item{number}", "push", f"item {number} is off"
    )


def finding(number: int) -> Finding:
    """Make a finding that differs by its number."""
    return Finding(
        number, FindingKind.OMITTED, f"flow.before.item{number}", "Item", "push", "stand", "captain",
        LEVELS[number % 3], float(number), "off", "on", f"item {number} is off",
    )  # fmt: skip


def entries(count: int) -> list[JudgeEvent]:
    """Make notices and findings in turn."""
    makers: tuple[Callable[[int], JudgeEvent], ...] = (
        notice,
        lambda number: FindingOpened(float(number), finding(number)),
        lambda number: FindingChanged(float(number), finding(number)),
    )
    return [makers[number % 3](number) for number in range(1, count + 1)]


class NotifierProbe:
    """Publishes events to a notifier group and gives the marks that the receiver must get."""

    def __init__(self, case: NotifierCase, *others: MemoryNotifier) -> None:
        """Select all kinds, so that the notifier has to deliver as much as it can."""
        case.notifier.kind_filter = KindFilter(include=("notice", "finding"))
        self.case = case
        self.second = MemoryNotifier("second")
        self.group = NotifierGroup([case.notifier, *others, self.second])
        self.feed: NotifierFeed = self.group.feed("sim")
        self.messages: list[Envelope] = []
        setattr(self.group, "publish", self._note(self.group.publish))  # noqa: B010 - a method is replaced

    def __call__(self, events: list[JudgeEvent]) -> list[Any]:
        """Publish some events; give the marks that the receiver must get."""
        before = len(self.messages)
        for event in events:
            self.feed(event)
        return self.marks(self.messages[before:])

    def marks(self, messages: list[Envelope]) -> list[Any]:
        """Give the marks of some messages that the receiver must get."""
        marks = (self.case.mark(message) for message in messages)
        return [mark for mark in marks if mark is not None]

    def _note(self, publish: Callable[[Envelope], None]) -> Callable[[Envelope], None]:
        def note_and_publish(message: Envelope) -> None:
            self.messages.append(message)
            publish(message)

        return note_and_publish


def accounted(case: NotifierCase) -> int:
    """Count the messages that were delivered, given up, lost or are queued."""
    notifier = case.notifier
    counts = notifier.counts
    ended = counts.delivered + len(counts.given_up) + len(counts.undelivered)
    return ended + len(notifier.outbox.lost) + len(notifier.outbox)


async def test_every_notice_and_finding_arrives_once_and_in_order(make: Maker) -> None:
    """Each published message is delivered once, in the order of publishing."""
    async with make(NotifierControls()) as case:
        probe = NotifierProbe(case)
        async with probe.group:
            await case.ready()
            wanted = probe(entries(12))
            await wait_until(
                lambda: case.notifier.counts.delivered == 12 and len(case.received) >= len(wanted)
            )
            wanted += probe(entries(6))
            await wait_until(
                lambda: case.notifier.counts.delivered == 18 and len(case.received) >= len(wanted)
            )
        assert case.received == wanted
        assert case.notifier.counts.accepted == 18
        assert case.notifier.healthy


async def test_unselected_kinds_are_not_sent(make: Maker) -> None:
    """A message of an unselected kind is not sent and not counted as accepted."""
    async with make(NotifierControls()) as case:
        probe = NotifierProbe(case)
        case.notifier.kind_filter = KindFilter(include=("notice",), exclude=())
        async with probe.group:
            await case.ready()
            probe([FindingOpened(1.0, finding(1)), notice(2), FindingChanged(3.0, finding(1))])
            await wait_until(lambda: case.notifier.counts.delivered == 1 and len(case.received) >= 1)
        assert case.received == [case.mark(probe.messages[1])]
        assert case.notifier.counts.accepted == 1


async def test_a_burst_beyond_the_outbox_is_counted(make: Maker) -> None:
    """The oldest messages are dropped; the status text and, where possible, a message gives their counts by kind."""
    async with make(NotifierControls(limits=DeliveryLimits(max_queued=5, max_attempts=1))) as case:
        probe = NotifierProbe(case)
        probe(entries(20))
        assert len(case.notifier.outbox) == 5
        assert case.notifier.outbox.lost.kinds == {"notice": 5, "finding/opened": 5, "finding/changed": 5}
        assert "15 (5 " in case.notifier.status_text(0.0)
        assert "dropped, queue full" in case.notifier.status_text(0.0)
        assert not case.notifier.healthy
        gap = case.notifier.outbox.lost.as_message(probe.messages[14])
        assert (gap.kind, gap.body["count"], gap.body["first"], gap.body["last"]) == ("lost", 15, 1, 15)
        wanted = probe.marks([gap, *probe.messages[15:]])
        if not case.receiver_may_come_first:
            return  # no receiver can have existed yet
        async with probe.group:
            await wait_until(
                lambda: case.notifier.counts.delivered == 5 and len(case.received) >= len(wanted)
            )
        assert case.received == wanted


async def test_a_receiver_that_was_down_gets_the_queued_messages(make: Maker) -> None:
    """A notifier that learns of success keeps its messages until the receiver is up; the others count what they sent."""
    controls = NotifierControls(limits=DeliveryLimits(max_attempts=50))
    async with make(controls) as case:
        probe = NotifierProbe(case)
        await case.down()
        async with probe.group:
            first = probe(entries(6))
            if case.delivers_after_outage:
                await wait_until(
                    lambda: bool(controls.wait.requested_s) and case.notifier.retry_at_s is not None
                )
                assert "trying again in" in case.notifier.status_text(controls.clock())
                assert len(case.received) == 0
            else:
                await wait_until(lambda: not len(case.notifier.outbox) and accounted(case) == 6)
                first = []
            await case.up()
            controls.wait.release()
            missed = list(case.received)
            second = probe(entries(3))
            wanted = missed + first + second if not case.delivers_after_outage else first + second
            await wait_until(lambda: len(case.received) >= len(wanted))
        assert case.received == wanted
        assert accounted(case) == 9


async def test_an_unreachable_receiver_delays_no_other(make: Maker) -> None:
    """While one notifier cannot send and no time passes, the others deliver everything."""
    controls = NotifierControls(limits=DeliveryLimits(max_attempts=50))
    async with make(controls) as case:
        await case.down()
        other = MemoryNotifier("other")
        probe = NotifierProbe(case, other)
        async with probe.group:
            probe(entries(30))
            await wait_until(lambda: len(other.received) == 30 and len(probe.second.received) == 30)
        assert [message.sequence for message in other.received] == list(range(1, 31))
        assert accounted(case) == 30


async def test_other_notifiers_that_hang_or_fail_cause_no_delay(make: Maker) -> None:
    """A notifier delivers everything beside one that hangs, one that raises and one whose `run` fails."""
    hangs = MemoryNotifier("hangs")
    hangs.unblocked.clear()
    fails = MemoryNotifier("fails", error_for=lambda _: ZeroDivisionError("a mistake"))
    breaks = MemoryNotifier("breaks")

    async def broken() -> None:
        raise RuntimeError("a mistake")

    breaks.run = broken  # type: ignore[method-assign]
    async with make(NotifierControls()) as case:
        probe = NotifierProbe(case, hangs, fails, breaks)
        async with probe.group:
            await case.ready()
            wanted = probe(entries(9))
            await wait_until(
                lambda: len(case.received) >= len(wanted) and case.notifier.counts.delivered == 9
            )
            assert hangs.received == []
            await probe.group.close(0.0)
        assert case.received == wanted
        assert (len(fails.counts.given_up), probe.group.failures) == (9, 1)
        assert len(hangs.counts.undelivered) == 9


async def test_closing_sends_the_queued_messages(make: Maker) -> None:
    """Messages published just before the end are still delivered to a receiver that is up."""
    async with make(NotifierControls()) as case:
        probe = NotifierProbe(case)
        async with probe.group:
            await case.ready()
            wanted = probe(entries(6))
            await probe.group.close(10.0)
            assert case.notifier.counts.delivered == 6
            await wait_until(lambda: len(case.received) >= len(wanted))
        assert case.received == wanted
        assert "closed" in case.notifier.status_text(0.0)


async def test_closing_ends_although_the_receiver_is_down(make: Maker) -> None:
    """With an absent receiver and a stopped clock, closing ends and every message is counted."""
    controls = NotifierControls(limits=DeliveryLimits(max_attempts=50))
    async with make(controls) as case:
        probe = NotifierProbe(case)
        await case.down()
        before = asyncio.all_tasks()
        async with probe.group:
            probe(entries(6))
            await wait_until(lambda: not case.delivers_after_outage or case.notifier.retry_at_s is not None)
        assert not {task for task in asyncio.all_tasks() - before if task.get_name() == case.notifier.name}
        assert len(case.notifier.outbox) == 0
        assert accounted(case) == 6
        assert not case.delivers_after_outage or len(case.notifier.counts.undelivered) == 6


async def test_messages_after_the_end_are_counted(make: Maker) -> None:
    """A message published after closing is counted as undelivered."""
    async with make(NotifierControls()) as case:
        probe = NotifierProbe(case)
        async with probe.group:
            await case.ready()
        probe(entries(3))
        assert len(case.notifier.counts.undelivered) == 3
        assert "3 (" in case.notifier.status_text(0.0)


async def test_unusual_texts_and_numbers_are_delivered(make: Maker) -> None:
    """A lone surrogate, NaN and line ends raise nothing, and every message arrives."""
    odd = Notice(float("nan"), Level.CAUTION, "captain", "x", "", "half \ud800 and\r\na second line\x00")
    async with make(NotifierControls()) as case:
        probe = NotifierProbe(case)
        async with probe.group:
            await case.ready()
            wanted = probe([notice(3), odd, notice(6)])
            await wait_until(
                lambda: case.notifier.counts.delivered == 3 and len(case.received) >= len(wanted)
            )
        assert case.received == wanted
        assert probe.group.failures == 0


async def test_a_message_that_fails_affects_no_other(make: Maker) -> None:
    """A message whose sending raises an unexpected error is counted; the messages around it arrive."""
    async with make(NotifierControls()) as case:
        probe = NotifierProbe(case)
        send = case.notifier._send

        async def fails_once(message: Envelope) -> None:
            if message.sequence == 2:
                raise KeyError("a mistake")
            await send(message)

        case.notifier._send = fails_once  # type: ignore[method-assign]
        async with probe.group:
            await case.ready()
            marks = probe([notice(1), notice(2), notice(3)])
            wanted = marks[:1] + marks[2:]
            await wait_until(lambda: accounted(case) == 3 and len(case.received) >= len(wanted))
        assert case.received == wanted
        assert case.notifier.counts.given_up.kinds == {"notice": 1}
        assert "1 (1 notice) failed" in case.notifier.status_text(0.0)


async def test_a_broken_notifier_does_not_affect_the_session(make: Maker) -> None:
    """With one broken notifier in a group, all other notifiers and listeners get every event."""
    received: list[object] = []

    def broken(_: Envelope) -> None:
        raise ValueError("a mistake")

    async with make(NotifierControls()) as case:
        probe = NotifierProbe(case)
        setattr(case.notifier, "enqueue", broken)  # noqa: B010 - a method is replaced
        listeners: list[Callable[[JudgeEvent], None]] = [probe.feed, received.append]
        for entry in (notice(1), notice(2)):
            for listener in listeners:
                listener(entry)
        assert len(received) == 2
        assert probe.group.failures == 2
        assert len(probe.second.outbox) == 2


async def test_the_status_text_begins_with_the_name(make: Maker) -> None:
    """The status is one sentence that begins with the notifier's name."""
    async with make(NotifierControls()) as case:
        assert case.notifier.status_text(0.0).startswith(f"{case.notifier.name}: opening, 0 sent")
        probe = NotifierProbe(case)
        async with probe.group:
            await case.ready()
            await wait_until(
                lambda: case.notifier.status_text(0.0).startswith(f"{case.notifier.name}: open,")
            )
