"""Tests of bridge.outputs.notifiers.base: attempts, delays, limits and status texts."""

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


class RunningNotifier:
    """A running notifier in memory, whose time the test controls."""

    def __init__(self, error_for: Callable[[Envelope], Exception | None], limits: DeliveryLimits) -> None:
        """Start the notifier.

        Args:
            error_for: Returns the error for a message, or None to accept it.
            limits: The limits of the notifier.
        """
        self.clock, self.waits = ManualClock(), ManualSleep()
        self.attempts = 0

        def counted(message: Envelope) -> Exception | None:
            self.attempts += 1
            return error_for(message)

        self.notifier = MemoryNotifier(error_for=counted, limits=limits, clock=self.clock, wait=self.waits)
        self.task = asyncio.create_task(self.notifier.run())

    async def step(self) -> None:
        """End the present delay, and wait for the next one or the end of the message."""
        delays, finished = len(self.waits.requested_s), self.finished
        self.waits.release()
        await wait_until(lambda: len(self.waits.requested_s) > delays or self.finished > finished)

    @property
    def finished(self) -> int:
        """The number of messages that are delivered or given up."""
        return self.notifier.counts.delivered + len(self.notifier.counts.given_up)

    async def end(self) -> None:
        """Close the notifier."""
        self.notifier.close()
        await self.task


async def test_delays_double_up_to_the_longest_and_attempts_are_limited() -> None:
    """The delays are 1, 2, 4, 8, 8 seconds with some jitter, and after the last attempt the message is given up."""
    running = RunningNotifier(
        lambda _: SendError("refused"), DeliveryLimits(max_attempts=6, first_delay_s=1.0, max_delay_s=8.0)
    )
    running.notifier.enqueue(*envelopes(notice()))
    await wait_until(lambda: len(running.waits.requested_s) == 1)
    while not running.finished:
        await running.step()
    assert running.attempts == 6
    assert running.waits.requested_s == [pytest.approx(wait_s, abs=0.26) for wait_s in (1, 2, 4, 8, 8)]
    assert max(running.waits.requested_s) <= 8.0
    assert len(running.notifier.counts.given_up) == 1
    await running.end()


async def test_no_new_attempt_begins_after_the_time_limit() -> None:
    """The time limit applies even if attempts are left."""
    running = RunningNotifier(
        lambda _: SendError("refused"), DeliveryLimits(max_attempts=1000, give_up_after_s=20.0)
    )
    running.notifier.enqueue(*envelopes(notice()))
    await wait_until(lambda: len(running.waits.requested_s) == 1)
    running.clock.now_s += 19.0
    await running.step()
    assert running.finished == 0
    running.clock.now_s += 1.0
    await running.step()
    assert (running.finished, running.attempts) == (1, 3)
    await running.end()


async def test_a_receiver_may_request_a_longer_delay_within_the_limits() -> None:
    """The requested delay is used up to the longest delay."""
    requested_s = iter((12.0, 4000.0))
    running = RunningNotifier(
        lambda _: SendError("busy", retry_after_s=next(requested_s)),
        DeliveryLimits(max_attempts=3, max_delay_s=30.0),
    )
    running.notifier.enqueue(*envelopes(notice()))
    await wait_until(lambda: len(running.waits.requested_s) == 1)
    await running.step()
    assert running.waits.requested_s == [12.0, 30.0]
    await running.end()


async def test_a_refused_message_has_one_attempt() -> None:
    """The next message is sent at once."""
    running = RunningNotifier(
        lambda message: SendError("unwanted", retry=False) if message.sequence == 1 else None,
        DeliveryLimits(),
    )
    for message in envelopes(notice(), notice()):
        running.notifier.enqueue(message)
    await wait_until(lambda: running.finished == 2)
    assert (running.attempts, running.waits.requested_s) == (2, [])
    assert running.notifier.status_text(0.0) == "memory: open, 1 sent, 1 (1 notice) failed"
    await running.end()


async def test_an_attempt_has_a_timeout() -> None:
    """A message without an answer within the timeout is given up."""
    notifier = MemoryNotifier(limits=DeliveryLimits(max_attempts=1, attempt_timeout_s=0.0))
    notifier.unblocked.clear()
    notifier.enqueue(*envelopes(notice()))
    task = asyncio.create_task(notifier.run())
    await wait_until(lambda: len(notifier.counts.given_up) == 1)
    assert notifier.trouble == "no answer within 0 s"
    notifier.close()
    await task


async def test_the_status_text_has_the_problem_and_the_next_attempt() -> None:
    """During a delay the status text has the reason, the remaining time and the number of queued messages."""
    running = RunningNotifier(
        lambda _: SendError("connection refused"), DeliveryLimits(first_delay_s=8.0, max_delay_s=8.0)
    )
    for message in envelopes(notice(), notice(), notice()):
        running.notifier.enqueue(message)
    await wait_until(lambda: len(running.waits.requested_s) == 1)
    now_s = running.clock()
    assert (
        running.notifier.status_text(now_s)
        == "memory: connection refused; trying again in 8 s, 0 sent, 2 queued"
    )
    assert "trying again in 3 s" in running.notifier.status_text(now_s + 5.0)
    assert not running.notifier.healthy
    await running.end()
    assert "3 (3 notice) not sent at shutdown" in running.notifier.status_text(now_s)


class FailingToOpen(MemoryNotifier):
    """A notifier whose first attempts to open fail with the given errors."""

    def __init__(self, errors: list[Exception], wait: ManualSleep) -> None:
        super().__init__(wait=wait)
        self.errors = errors

    async def _open(self) -> None:
        if self.errors:
            raise self.errors.pop(0)


async def test_opening_is_retried_until_it_succeeds() -> None:
    """Messages that arrive meanwhile are queued."""
    waits = ManualSleep()
    notifier = FailingToOpen([SendError("in use"), SendError("in use")], waits)
    notifier.enqueue(*envelopes(notice()))
    task = asyncio.create_task(notifier.run())
    for count in (1, 2):
        await wait_until(lambda count=count: len(waits.requested_s) == count)  # type: ignore[misc]
        assert "in use; trying again" in notifier.status_text(0.0)
        waits.release()
    await wait_until(lambda: len(notifier.received) == 1)
    assert notifier.status_text(0.0) == "memory: open, 1 sent"
    notifier.close()
    await task


@pytest.mark.parametrize("error", [SendError("no library", retry=False), ZeroDivisionError("a mistake")])
async def test_a_disabled_notifier_gives_up_every_message(error: Exception) -> None:
    """It ends at once, counts earlier and later messages, and its status text has the reason."""
    notifier: Notifier = FailingToOpen([error], ManualSleep())
    first, second = envelopes(notice(), notice())
    notifier.enqueue(first)
    await notifier.run()
    notifier.enqueue(second)
    assert len(notifier.counts.given_up) == 2
    assert notifier.status_text(0.0).startswith("memory: disabled: ")
    assert str(error) in notifier.status_text(0.0)


async def test_cancelling_counts_undelivered_messages() -> None:
    """Queued messages and the one being sent are counted."""
    notifier = MemoryNotifier()
    notifier.unblocked.clear()
    for message in envelopes(notice(), notice()):
        notifier.enqueue(message)
    task = asyncio.create_task(notifier.run())
    await wait_until(lambda: len(notifier.outbox) == 1)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert len(notifier.counts.undelivered) == 2


async def test_closing_ends_a_delay_and_makes_one_more_attempt() -> None:
    """Without waiting there is one more attempt at the present message, and none at those behind it."""
    running = RunningNotifier(lambda _: SendError("refused"), DeliveryLimits(max_attempts=50))
    for message in envelopes(notice(), notice(), notice()):
        running.notifier.enqueue(message)
    await wait_until(lambda: len(running.waits.requested_s) == 1)
    await running.end()
    assert (running.attempts, len(running.notifier.counts.undelivered)) == (2, 3)
    assert len(running.waits.requested_s) == 1
