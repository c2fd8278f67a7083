"""What every way out must do, whoever wrote it; see `ways` for adding one."""

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
    """Each way out of the table."""
    maker: Maker = request.param
    return maker


def notice(number: int) -> Notice:
    """One that can be told from the others."""
    level = LEVELS[number % 3]
    return Notice(
        float(number), level, "captain", f"flow.before.item{number}", "push", f"item {number} is off"
    )


def finding(number: int) -> Finding:
    """One that can be told from the others."""
    return Finding(
        number, FindingKind.OMITTED, f"flow.before.item{number}", "Item", "push", "stand", "captain",
        LEVELS[number % 3], float(number), "off", "on", f"item {number} is off, needs on",
    )  # fmt: skip


def entries(count: int) -> list[JudgeEvent]:
    """Notices and findings in turn."""
    makers: tuple[Callable[[int], JudgeEvent], ...] = (
        notice,
        lambda number: FindingOpened(float(number), finding(number)),
        lambda number: FindingChanged(float(number), finding(number)),
    )
    return [makers[number % 3](number) for number in range(1, count + 1)]


class NotifierProbe:
    """What went into a fan: entries as messages, and what of them the receiver has to get."""

    def __init__(self, case: NotifierCase, *others: MemoryNotifier) -> None:
        """Everything is wanted, so that each way out has to show all it can."""
        case.notifier.kind_filter = KindFilter(include=("notice", "finding"))
        self.case = case
        self.kept = MemoryNotifier("kept")
        self.fan = NotifierGroup([case.notifier, *others, self.kept])
        self.ear: NotifierFeed = self.fan.feed("sim")
        self.messages: list[Envelope] = []
        setattr(self.fan, "publish", self._note(self.fan.publish))  # noqa: B010 - a method is replaced

    def __call__(self, said: list[JudgeEvent]) -> list[Any]:
        """Hear some entries; gives what the receiver has to get of them."""
        before = len(self.messages)
        for entry in said:
            self.ear(entry)
        return self.marks(self.messages[before:])

    def marks(self, messages: list[Envelope]) -> list[Any]:
        """What the receiver has to get of some messages."""
        marks = (self.case.mark(message) for message in messages)
        return [mark for mark in marks if mark is not None]

    def _note(self, hear: Callable[[Envelope], None]) -> Callable[[Envelope], None]:
        def noted(message: Envelope) -> None:
            self.messages.append(message)
            hear(message)

        return noted


def accounted(case: NotifierCase) -> int:
    """Messages of which it is known what became of them."""
    notifier = case.notifier
    counts = notifier.counts
    ended = counts.delivered + len(counts.given_up) + len(counts.undelivered)
    return ended + len(notifier.outbox.lost) + len(notifier.outbox)


async def test_every_notice_and_finding_arrives_once_and_in_order(make: Maker) -> None:
    """What is heard goes out, each once, in the order in which it was heard."""
    async with make(NotifierControls()) as case:
        heard = NotifierProbe(case)
        async with heard.fan:
            await case.ready()
            wanted = heard(entries(12))
            await wait_until(
                lambda: case.notifier.counts.delivered == 12 and len(case.received) >= len(wanted)
            )
            wanted += heard(entries(6))
            await wait_until(
                lambda: case.notifier.counts.delivered == 18 and len(case.received) >= len(wanted)
            )
        assert case.received == wanted
        assert case.notifier.counts.accepted == 18
        assert case.notifier.healthy


async def test_what_is_not_wanted_does_not_go_out(make: Maker) -> None:
    """A kind that was not chosen costs nothing and is not counted as heard."""
    async with make(NotifierControls()) as case:
        heard = NotifierProbe(case)
        case.notifier.kind_filter = KindFilter(include=("notice",), exclude=())
        async with heard.fan:
            await case.ready()
            heard([FindingOpened(1.0, finding(1)), notice(2), FindingChanged(3.0, finding(1))])
            await wait_until(lambda: case.notifier.counts.delivered == 1 and len(case.received) >= 1)
        assert case.received == [case.mark(heard.messages[1])]
        assert case.notifier.counts.accepted == 1


async def test_a_burst_beyond_the_outbox_is_counted_and_said(make: Maker) -> None:
    """The oldest make room; how many of what kind is in the words and, where it can be, told to the receiver."""
    async with make(NotifierControls(limits=DeliveryLimits(max_queued=5, max_attempts=1))) as case:
        heard = NotifierProbe(case)
        heard(entries(20))
        assert len(case.notifier.outbox) == 5
        assert case.notifier.outbox.lost.kinds == {"notice": 5, "finding/opened": 5, "finding/changed": 5}
        assert "15 (5 " in case.notifier.status_text(0.0)
        assert "lost to a full outbox" in case.notifier.status_text(0.0)
        assert not case.notifier.healthy
        gap = case.notifier.outbox.lost.as_message(heard.messages[14])
        assert (gap.kind, gap.body["count"], gap.body["first"], gap.body["last"]) == ("lost", 15, 1, 15)
        wanted = heard.marks([gap, *heard.messages[15:]])
        if not case.receiver_may_come_first:
            return  # nobody can have been there to get it
        async with heard.fan:
            await wait_until(
                lambda: case.notifier.counts.delivered == 5 and len(case.received) >= len(wanted)
            )
        assert case.received == wanted


async def test_a_receiver_that_was_down_gets_what_is_held(make: Maker) -> None:
    """A way out that hears of success holds what it has until the receiver is there; every other counts what it did."""
    hands = NotifierControls(limits=DeliveryLimits(max_attempts=50))
    async with make(hands) as case:
        heard = NotifierProbe(case)
        await case.down()
        async with heard.fan:
            first = heard(entries(6))
            if case.delivers_after_outage:
                await wait_until(
                    lambda: bool(hands.wait.requested_s) and case.notifier.retry_at_s is not None
                )
                assert "trying again in" in case.notifier.status_text(hands.clock())
                assert len(case.received) == 0
            else:
                await wait_until(lambda: not len(case.notifier.outbox) and accounted(case) == 6)
                first = []
            await case.up()
            hands.wait.release()
            missed = list(case.received)
            second = heard(entries(3))
            wanted = missed + first + second if not case.delivers_after_outage else first + second
            await wait_until(lambda: len(case.received) >= len(wanted))
        assert case.received == wanted
        assert accounted(case) == 9


async def test_one_that_is_down_delays_nobody(make: Maker) -> None:
    """While one cannot send and no time passes, the others have everything."""
    hands = NotifierControls(limits=DeliveryLimits(max_attempts=50))
    async with make(hands) as case:
        await case.down()
        other = MemoryNotifier("other")
        heard = NotifierProbe(case, other)
        async with heard.fan:
            heard(entries(30))
            await wait_until(lambda: len(other.received) == 30 and len(heard.kept.received) == 30)
        assert [message.sequence for message in other.received] == list(range(1, 31))
        assert accounted(case) == 30


async def test_others_that_hang_or_fail_delay_it_not(make: Maker) -> None:
    """Beside one that hangs for ever, one that raises what it likes and one whose run breaks, it sends all."""
    hangs = MemoryNotifier("hangs")
    hangs.unblocked.clear()
    fails = MemoryNotifier("fails", error_for=lambda _: ZeroDivisionError("a mistake"))
    breaks = MemoryNotifier("breaks")

    async def broken() -> None:
        raise RuntimeError("a mistake")

    breaks.run = broken  # type: ignore[method-assign]
    async with make(NotifierControls()) as case:
        heard = NotifierProbe(case, hangs, fails, breaks)
        async with heard.fan:
            await case.ready()
            wanted = heard(entries(9))
            await wait_until(
                lambda: len(case.received) >= len(wanted) and case.notifier.counts.delivered == 9
            )
            assert hangs.received == []
            await heard.fan.close(0.0)
        assert case.received == wanted
        assert (len(fails.counts.given_up), heard.fan.failures) == (9, 1)
        assert len(hangs.counts.undelivered) == 9


async def test_closing_sends_what_is_held(make: Maker) -> None:
    """What was heard just before the end still goes out, where the receiver is there."""
    async with make(NotifierControls()) as case:
        heard = NotifierProbe(case)
        async with heard.fan:
            await case.ready()
            wanted = heard(entries(6))
            await heard.fan.close(10.0)
            assert case.notifier.counts.delivered == 6
            await wait_until(lambda: len(case.received) >= len(wanted))
        assert case.received == wanted
        assert "closed" in case.notifier.status_text(0.0)


async def test_closing_ends_although_the_receiver_is_down(make: Maker) -> None:
    """No time passes, nobody is there: it ends all the same, and every message is accounted for."""
    hands = NotifierControls(limits=DeliveryLimits(max_attempts=50))
    async with make(hands) as case:
        heard = NotifierProbe(case)
        await case.down()
        before = asyncio.all_tasks()
        async with heard.fan:
            heard(entries(6))
            await wait_until(lambda: not case.delivers_after_outage or case.notifier.retry_at_s is not None)
        assert not {task for task in asyncio.all_tasks() - before if task.get_name() == case.notifier.name}
        assert len(case.notifier.outbox) == 0
        assert accounted(case) == 6
        assert not case.delivers_after_outage or len(case.notifier.counts.undelivered) == 6


async def test_what_is_heard_after_the_end_is_counted(make: Maker) -> None:
    """An entry that comes when all is closed is neither sent nor forgotten."""
    async with make(NotifierControls()) as case:
        heard = NotifierProbe(case)
        async with heard.fan:
            await case.ready()
        heard(entries(3))
        assert len(case.notifier.counts.undelivered) == 3
        assert "3 (" in case.notifier.status_text(0.0)


async def test_odd_words_and_numbers_arrive_as_well_as_can_be(make: Maker) -> None:
    """Half a character, NaN, line ends: nothing raises, and every message arrives."""
    odd = Notice(float("nan"), Level.CAUTION, "captain", "x", "", "half \ud800 and\r\na second line\x00")
    async with make(NotifierControls()) as case:
        heard = NotifierProbe(case)
        async with heard.fan:
            await case.ready()
            wanted = heard([notice(3), odd, notice(6)])
            await wait_until(
                lambda: case.notifier.counts.delivered == 3 and len(case.received) >= len(wanted)
            )
        assert case.received == wanted
        assert heard.fan.failures == 0


async def test_a_message_that_fails_costs_itself_only(make: Maker) -> None:
    """Sending raises what nobody thought of for one message: it is counted and named, those around it arrive."""
    async with make(NotifierControls()) as case:
        heard = NotifierProbe(case)
        send = case.notifier._send

        async def fails_once(message: Envelope) -> None:
            if message.sequence == 2:
                raise KeyError("a mistake")
            await send(message)

        case.notifier._send = fails_once  # type: ignore[method-assign]
        async with heard.fan:
            await case.ready()
            marks = heard([notice(1), notice(2), notice(3)])
            wanted = marks[:1] + marks[2:]
            await wait_until(lambda: accounted(case) == 3 and len(case.received) >= len(wanted))
        assert case.received == wanted
        assert case.notifier.counts.given_up.kinds == {"notice": 1}
        assert "1 (1 notice) given up" in case.notifier.status_text(0.0)


async def test_nothing_raises_into_the_session(make: Maker) -> None:
    """A session tells a fan of which a part is broken: every other part and every other listener is told all the same."""
    told: list[object] = []

    def broken(_: Envelope) -> None:
        raise ValueError("a mistake")

    async with make(NotifierControls()) as case:
        heard = NotifierProbe(case)
        setattr(case.notifier, "enqueue", broken)  # noqa: B010 - a method is replaced
        listeners: list[Callable[[JudgeEvent], None]] = [heard.ear, told.append]
        for entry in (notice(1), notice(2)):
            for listener in listeners:
                listener(entry)
        assert len(told) == 2
        assert heard.fan.failures == 2
        assert len(heard.kept.outbox) == 2


async def test_the_words_name_it_and_nothing_secret(make: Maker) -> None:
    """One sentence that begins with its name."""
    async with make(NotifierControls()) as case:
        assert case.notifier.status_text(0.0).startswith(f"{case.notifier.name}: opening, 0 sent")
        heard = NotifierProbe(case)
        async with heard.fan:
            await case.ready()
            await wait_until(
                lambda: case.notifier.status_text(0.0).startswith(f"{case.notifier.name}: open,")
            )
