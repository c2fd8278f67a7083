"""Tests of bridge.outputs.notifiers.base: how often and when it is tried, and what is said of it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import pytest

from bridge.outputs.notifiers.base import DeliveryLimits, Notifier, SendError
from bridge.outputs.notifiers.envelope import Envelope
from bridge.outputs.notifiers.memory import MemoryNotifier
from tests.bridge.outputs.notifiers.sample_messages import envelopes, notice
from tests.contract.notifier_cases import ManualSleep
from tests.contract.waiting import ManualClock, wait_until


class Tried:
    """A notifier in memory that runs, with its time in the test's hand."""

    def __init__(self, refuse: Callable[[Envelope], Exception | None], bounds: DeliveryLimits) -> None:
        """Running, with nothing heard."""
        self.clock, self.waits = ManualClock(), ManualSleep()
        self.tries = 0

        def counted(message: Envelope) -> Exception | None:
            self.tries += 1
            return refuse(message)

        self.notifier = MemoryNotifier(error_for=counted, limits=bounds, clock=self.clock, wait=self.waits)
        self.task = asyncio.create_task(self.notifier.run())

    async def step(self) -> None:
        """Let the pause that it is in end, and wait for the next one or the end of the message."""
        pauses, done = len(self.waits.requested_s), self.settled
        self.waits.release()
        await wait_until(lambda: len(self.waits.requested_s) > pauses or self.settled > done)

    @property
    def settled(self) -> int:
        """Messages whose fate is known."""
        return self.notifier.counts.delivered + len(self.notifier.counts.given_up)

    async def end(self) -> None:
        """Close it."""
        self.notifier.close()
        await self.task


async def test_pauses_grow_to_the_longest_and_tries_are_bounded() -> None:
    """1, 2, 4, 8, 8 seconds, each with a little chance, and after the last try the message is given up."""
    tried = Tried(
        lambda _: SendError("nobody"), DeliveryLimits(max_attempts=6, first_delay_s=1.0, max_delay_s=8.0)
    )
    tried.notifier.enqueue(*envelopes(notice()))
    await wait_until(lambda: len(tried.waits.requested_s) == 1)
    while not tried.settled:
        await tried.step()
    assert tried.tries == 6
    assert tried.waits.requested_s == [pytest.approx(wait_s, abs=0.26) for wait_s in (1, 2, 4, 8, 8)]
    assert max(tried.waits.requested_s) <= 8.0
    assert len(tried.notifier.counts.given_up) == 1
    await tried.end()


async def test_no_new_try_begins_after_the_time_is_over() -> None:
    """The bound on time holds whatever the bound on tries says."""
    tried = Tried(lambda _: SendError("nobody"), DeliveryLimits(max_attempts=1000, give_up_after_s=20.0))
    tried.notifier.enqueue(*envelopes(notice()))
    await wait_until(lambda: len(tried.waits.requested_s) == 1)
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
    tried = Tried(
        lambda _: SendError("busy", retry_after_s=next(asked)),
        DeliveryLimits(max_attempts=3, max_delay_s=30.0),
    )
    tried.notifier.enqueue(*envelopes(notice()))
    await wait_until(lambda: len(tried.waits.requested_s) == 1)
    await tried.step()
    assert tried.waits.requested_s == [12.0, 30.0]
    await tried.end()


async def test_what_is_refused_for_good_is_tried_once() -> None:
    """And the next message goes on at once."""
    tried = Tried(
        lambda message: SendError("unwanted", retry=False) if message.sequence == 1 else None,
        DeliveryLimits(),
    )
    for message in envelopes(notice(), notice()):
        tried.notifier.enqueue(message)
    await wait_until(lambda: tried.settled == 2)
    assert (tried.tries, tried.waits.requested_s) == (2, [])
    assert tried.notifier.status_text(0.0) == "memory: open, 1 sent, 1 (1 notice) given up"
    await tried.end()


async def test_one_try_is_bounded_in_time() -> None:
    """One that hangs is given up as one that does not answer."""
    notifier = MemoryNotifier(limits=DeliveryLimits(max_attempts=1, attempt_timeout_s=0.0))
    notifier.unblocked.clear()
    notifier.enqueue(*envelopes(notice()))
    running = asyncio.create_task(notifier.run())
    await wait_until(lambda: len(notifier.counts.given_up) == 1)
    assert notifier.trouble == "no answer within 0 s"
    notifier.close()
    await running


async def test_words_say_what_is_wrong_and_when_it_is_tried_again() -> None:
    """While it pauses: why, how long yet, and what is held."""
    tried = Tried(lambda _: SendError("nobody is there"), DeliveryLimits(first_delay_s=8.0, max_delay_s=8.0))
    for message in envelopes(notice(), notice(), notice()):
        tried.notifier.enqueue(message)
    await wait_until(lambda: len(tried.waits.requested_s) == 1)
    now_s = tried.clock()
    assert tried.notifier.status_text(now_s) == "memory: nobody is there; trying again in 8 s, 0 sent, 2 held"
    assert "trying again in 3 s" in tried.notifier.status_text(now_s + 5.0)
    assert not tried.notifier.healthy
    await tried.end()
    assert "3 (3 notice) not sent before the end" in tried.notifier.status_text(now_s)


class Opening(MemoryNotifier):
    """One whose opening fails as often as it is told."""

    def __init__(self, errors: list[Exception], wait: ManualSleep) -> None:
        """Nothing opened."""
        super().__init__(wait=wait)
        self.errors = errors

    async def _open(self) -> None:
        if self.errors:
            raise self.errors.pop(0)


async def test_opening_is_tried_until_it_can_be_done() -> None:
    """What is heard meanwhile is held."""
    waits = ManualSleep()
    notifier = Opening([SendError("in use"), SendError("in use")], waits)
    notifier.enqueue(*envelopes(notice()))
    running = asyncio.create_task(notifier.run())
    for count in (1, 2):
        await wait_until(lambda count=count: len(waits.requested_s) == count)  # type: ignore[misc]
        assert "in use; trying again" in notifier.status_text(0.0)
        waits.release()
    await wait_until(lambda: len(notifier.received) == 1)
    assert notifier.status_text(0.0) == "memory: open, 1 sent"
    notifier.close()
    await running


@pytest.mark.parametrize("error", [SendError("no library", retry=False), ZeroDivisionError("a mistake")])
async def test_one_that_can_never_work_counts_all_as_given_up(error: Exception) -> None:
    """It ends at once; what was and what will be heard is counted, and the words say why."""
    notifier: Notifier = Opening([error], ManualSleep())
    first, second = envelopes(notice(), notice())
    notifier.enqueue(first)
    await notifier.run()
    notifier.enqueue(second)
    assert len(notifier.counts.given_up) == 2
    assert notifier.status_text(0.0).startswith("memory: out of order: ")
    assert str(error) in notifier.status_text(0.0)


async def test_being_cancelled_counts_what_is_unsent() -> None:
    """Both what is held and what was on its way."""
    notifier = MemoryNotifier()
    notifier.unblocked.clear()
    for message in envelopes(notice(), notice()):
        notifier.enqueue(message)
    running = asyncio.create_task(notifier.run())
    await wait_until(lambda: len(notifier.outbox) == 1)
    running.cancel()
    with pytest.raises(asyncio.CancelledError):
        await running
    assert len(notifier.counts.undelivered) == 2


async def test_closing_ends_a_pause_and_tries_once_more() -> None:
    """No time passes: what was being tried is tried once more, what is held behind it not at all."""
    tried = Tried(lambda _: SendError("nobody"), DeliveryLimits(max_attempts=50))
    for message in envelopes(notice(), notice(), notice()):
        tried.notifier.enqueue(message)
    await wait_until(lambda: len(tried.waits.requested_s) == 1)
    await tried.end()
    assert (tried.tries, len(tried.notifier.counts.undelivered)) == (2, 3)
    assert len(tried.waits.requested_s) == 1
