"""Tests of bridge.notify.base: how often and when it is tried, and what is said of it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import pytest

from bridge.notify.base import Bounds, Notifier, SendError
from bridge.notify.envelope import Envelope
from bridge.notify.memory import MemoryNotifier
from tests.bridge.notify.saying import notice, stamped
from tests.contract.until import Clock, until
from tests.contract.ways import Waits


class Tried:
    """A notifier in memory that runs, with its time in the test's hand."""

    def __init__(self, refuse: Callable[[Envelope], Exception | None], bounds: Bounds) -> None:
        """Running, with nothing heard."""
        self.clock, self.waits = Clock(), Waits()
        self.tries = 0

        def counted(message: Envelope) -> Exception | None:
            self.tries += 1
            return refuse(message)

        self.notifier = MemoryNotifier(refuse=counted, bounds=bounds, clock=self.clock, wait=self.waits)
        self.task = asyncio.create_task(self.notifier.run())

    async def step(self) -> None:
        """Let the pause that it is in end, and wait for the next one or the end of the message."""
        pauses, done = len(self.waits.asked), self.settled
        self.waits.let_pass()
        await until(lambda: len(self.waits.asked) > pauses or self.settled > done)

    @property
    def settled(self) -> int:
        """Messages whose fate is known."""
        return self.notifier.counts.sent + len(self.notifier.counts.failed)

    async def end(self) -> None:
        """Close it."""
        self.notifier.close()
        await self.task


async def test_pauses_grow_to_the_longest_and_tries_are_bounded() -> None:
    """1, 2, 4, 8, 8 seconds, each with a little chance, and after the last try the message is given up."""
    tried = Tried(lambda _: SendError("nobody"), Bounds(tries=6, first_s=1.0, longest_s=8.0))
    tried.notifier.hear(*stamped(notice()))
    await until(lambda: len(tried.waits.asked) == 1)
    while not tried.settled:
        await tried.step()
    assert tried.tries == 6
    assert tried.waits.asked == [pytest.approx(wait_s, abs=0.26) for wait_s in (1, 2, 4, 8, 8)]
    assert max(tried.waits.asked) <= 8.0
    assert len(tried.notifier.counts.failed) == 1
    await tried.end()


async def test_no_new_try_begins_after_the_time_is_over() -> None:
    """The bound on time holds whatever the bound on tries says."""
    tried = Tried(lambda _: SendError("nobody"), Bounds(tries=1000, within_s=20.0))
    tried.notifier.hear(*stamped(notice()))
    await until(lambda: len(tried.waits.asked) == 1)
    tried.clock.now_s += 19.0
    await tried.step()
    assert tried.settled == 0
    tried.clock.now_s += 1.0
    await tried.step()
    assert (tried.settled, tried.tries) == (1, 3)
    await tried.end()


async def test_a_receiver_may_ask_for_a_longer_pause_within_our_bounds() -> None:
    """It is waited as long as asked, but not longer than the longest pause."""
    asked = iter((12.0, 4000.0))
    tried = Tried(lambda _: SendError("busy", after_s=next(asked)), Bounds(tries=3, longest_s=30.0))
    tried.notifier.hear(*stamped(notice()))
    await until(lambda: len(tried.waits.asked) == 1)
    await tried.step()
    assert tried.waits.asked == [12.0, 30.0]
    await tried.end()


async def test_what_is_refused_for_good_is_tried_once() -> None:
    """And the next message goes on at once."""
    tried = Tried(
        lambda message: SendError("unwanted", again=False) if message.sequence == 1 else None, Bounds()
    )
    for message in stamped(notice(), notice()):
        tried.notifier.hear(message)
    await until(lambda: tried.settled == 2)
    assert (tried.tries, tried.waits.asked) == (2, [])
    assert tried.notifier.words(0.0) == "memory: open, 1 sent, 1 (1 notice) given up"
    await tried.end()


async def test_one_try_is_bounded_in_time() -> None:
    """One that hangs is given up as one that does not answer."""
    notifier = MemoryNotifier(bounds=Bounds(tries=1, try_s=0.0))
    notifier.gate.clear()
    notifier.hear(*stamped(notice()))
    running = asyncio.create_task(notifier.run())
    await until(lambda: len(notifier.counts.failed) == 1)
    assert notifier.trouble == "no answer within 0 s"
    notifier.close()
    await running


async def test_words_say_what_is_wrong_and_when_it_is_tried_again() -> None:
    """While it pauses: why, how long yet, and what is held."""
    tried = Tried(lambda _: SendError("nobody is there"), Bounds(first_s=8.0, longest_s=8.0))
    for message in stamped(notice(), notice(), notice()):
        tried.notifier.hear(message)
    await until(lambda: len(tried.waits.asked) == 1)
    now_s = tried.clock()
    assert tried.notifier.words(now_s) == "memory: nobody is there; trying again in 8 s, 0 sent, 2 held"
    assert "trying again in 3 s" in tried.notifier.words(now_s + 5.0)
    assert not tried.notifier.healthy
    await tried.end()
    assert "3 (3 notice) not sent before the end" in tried.notifier.words(now_s)


class Opening(MemoryNotifier):
    """One whose opening fails as often as it is told."""

    def __init__(self, errors: list[Exception], wait: Waits) -> None:
        """Nothing opened."""
        super().__init__(wait=wait)
        self.errors = errors

    async def _open(self) -> None:
        if self.errors:
            raise self.errors.pop(0)


async def test_opening_is_tried_until_it_can_be_done() -> None:
    """What is heard meanwhile is held."""
    waits = Waits()
    notifier = Opening([SendError("in use"), SendError("in use")], waits)
    notifier.hear(*stamped(notice()))
    running = asyncio.create_task(notifier.run())
    for count in (1, 2):
        await until(lambda count=count: len(waits.asked) == count)  # type: ignore[misc]
        assert "in use; trying again" in notifier.words(0.0)
        waits.let_pass()
    await until(lambda: len(notifier.received) == 1)
    assert notifier.words(0.0) == "memory: open, 1 sent"
    notifier.close()
    await running


@pytest.mark.parametrize("error", [SendError("no library", again=False), ZeroDivisionError("a mistake")])
async def test_one_that_can_never_work_counts_all_as_given_up(error: Exception) -> None:
    """It ends at once; what was and what will be heard is counted, and the words say why."""
    notifier: Notifier = Opening([error], Waits())
    first, second = stamped(notice(), notice())
    notifier.hear(first)
    await notifier.run()
    notifier.hear(second)
    assert len(notifier.counts.failed) == 2
    assert notifier.words(0.0).startswith("memory: out of order: ")
    assert str(error) in notifier.words(0.0)


async def test_being_cancelled_counts_what_is_unsent() -> None:
    """Both what is held and what was on its way."""
    notifier = MemoryNotifier()
    notifier.gate.clear()
    for message in stamped(notice(), notice()):
        notifier.hear(message)
    running = asyncio.create_task(notifier.run())
    await until(lambda: len(notifier.outbox) == 1)
    running.cancel()
    with pytest.raises(asyncio.CancelledError):
        await running
    assert len(notifier.counts.unsent) == 2


async def test_closing_ends_a_pause_and_tries_once_more() -> None:
    """No time passes: what was being tried is tried once more, what is held behind it not at all."""
    tried = Tried(lambda _: SendError("nobody"), Bounds(tries=50))
    for message in stamped(notice(), notice(), notice()):
        tried.notifier.hear(message)
    await until(lambda: len(tried.waits.asked) == 1)
    await tried.end()
    assert (tried.tries, len(tried.notifier.counts.unsent)) == (2, 3)
    assert len(tried.waits.asked) == 1
