"""The base class of notifiers: a bounded queue, delivery with retries, counts and a status text.

`enqueue` takes the same short time in every state and never raises.  `run` sends until the notifier is closed: a failed
attempt is repeated after growing delays within limits; a message that is given up is counted.  A subclass implements `_send`
for one message, which raises `SendError` if the message was not delivered.

Takes: envelopes.  Gives: messages sent, counts, and a status text.
"""

from __future__ import annotations

import asyncio
import time
from abc import ABC, abstractmethod
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass, field

import structlog
from tenacity import AsyncRetrying, RetryCallState, retry_if_exception

from adapters.back_off import FIRST_WAIT_S, MAX_WAIT_S, BackOff
from bridge.outputs.notifiers.envelope import Envelope, kind_matches
from bridge.outputs.notifiers.outbox import MAX_QUEUED, MessageLosses, Outbox
from rules.faults import HoldshortError

CLOSE_TIMEOUT_S = 2.0
Clock = Callable[[], float]
Wait = Callable[[float], Awaitable[object]]


class SendError(HoldshortError):
    """A message was not delivered; says if another attempt makes sense, and after which least delay."""

    def __init__(self, reason: str, *, retry: bool = True, retry_after_s: float = 0.0) -> None:
        """Make the error.

        Args:
            reason: shown in the status text; contains no secret.
            retry: False if another attempt is useless.
            retry_after_s: the least delay before the next attempt, in seconds.
        """
        super().__init__(reason)
        self.retry = retry
        self.retry_after_s = retry_after_s


@dataclass(frozen=True, slots=True)
class DeliveryLimits:
    """Limits of a notifier's queue and of its attempts.

    Attributes:
        max_queued: Messages that may wait.
        max_attempts: Attempts at one message.
        attempt_timeout_s: Time for one attempt.
        give_up_after_s: No new attempt at a message begins later than this.
        first_delay_s: Delay after the first failure; then it doubles.
        max_delay_s: The longest delay.
    """

    max_queued: int = MAX_QUEUED
    max_attempts: int = 10
    attempt_timeout_s: float = 10.0
    give_up_after_s: float = 300.0
    first_delay_s: float = FIRST_WAIT_S
    max_delay_s: float = MAX_WAIT_S


@dataclass(frozen=True, slots=True)
class KindFilter:
    """Selects kinds of messages by kind or first word: those of `include` (all if empty) without those of `exclude`."""

    include: tuple[str, ...] = ()
    exclude: tuple[str, ...] = ()

    def __contains__(self, kind: str) -> bool:
        return (not self.include or kind_matches(kind, self.include)) and not kind_matches(kind, self.exclude)


@dataclass(slots=True)
class NotifierCounts:
    """Counters since the notifier was made; messages dropped from a full queue are in `Outbox.lost`.

    Attributes:
        accepted: Messages of selected kinds.
        delivered: Messages that were sent.
        given_up: Messages given up after all attempts, or refused by the receiver.
        undelivered: Messages still queued when the notifier was closed.
    """

    accepted: int = 0
    delivered: int = 0
    given_up: MessageLosses = field(default_factory=MessageLosses)
    undelivered: MessageLosses = field(default_factory=MessageLosses)


class Notifier(ABC):
    """One output for messages; subclasses implement `_send`."""

    kind_filter = KindFilter()

    def __init__(
        self,
        name: str,
        *,
        limits: DeliveryLimits | None = None,
        kind_filter: KindFilter | None = None,
        clock: Clock = time.monotonic,
        wait: Wait = asyncio.sleep,
    ) -> None:
        """Make a notifier; it is opened by `run`.

        Args:
            name: The name in status texts; contains no secret.
            limits: The limits of queue and attempts; None for the defaults.
            kind_filter: The kinds to send; None for those of the class.
            clock: The monotonic clock in seconds.
            wait: Waits the given number of seconds.
        """
        self.name = name
        self.limits = limits or DeliveryLimits()
        self.kind_filter = kind_filter or self.kind_filter
        self.clock = clock
        self.counts = NotifierCounts()
        self.trouble = ""
        self.retry_at_s: float | None = None
        self.outbox = Outbox(self.limits.max_queued)
        self._wait = wait
        self._closing = asyncio.Event()
        self._disabled = False
        self._is_open = False
        self._log = structlog.get_logger("notify").bind(notifier=name)
        first_s = self.limits.first_delay_s
        self._back_off = BackOff(first_s, self.limits.max_delay_s, jitter_s=first_s / 4)

    async def _open(self) -> None:  # noqa: B027 - optional
        """Open the output; raise `SendError` if that fails."""

    @abstractmethod
    async def _send(self, message: Envelope) -> None:
        """Send one message; raise `SendError` if it was not delivered.  May be cancelled at any await."""

    async def _run_alongside(self) -> None:  # noqa: B027 - optional
        """Run beside sending while the notifier is open; cancelled at the end."""

    async def _close(self) -> None:  # noqa: B027 - optional
        """Release every resource of `_open`."""

    def enqueue(self, message: Envelope) -> None:
        """Queue one message if its kind is selected; never waits, never raises."""
        if message.kind not in self.kind_filter:
            return
        self.counts.accepted += 1
        if self._disabled:
            self.counts.given_up.add(message)
        elif self._closing.is_set():
            self.counts.undelivered.add(message)
        else:
            self.outbox.put(message)

    async def run(self) -> None:
        """Send until the notifier is closed and its queue is empty, or until cancelled; count undelivered messages."""
        try:
            await self._send_queued()
            self._count_undelivered()
        except asyncio.CancelledError:
            self._count_undelivered()
            raise
        finally:
            self._is_open = False
            await self._release()

    def close(self) -> None:
        """Accept no more messages: `run` makes one attempt at each queued message and ends."""
        self._closing.set()
        self.outbox.close()

    @property
    def healthy(self) -> bool:
        """True if no action is needed: no problem, and no message lost."""
        return not (
            self.trouble or len(self.counts.given_up) or len(self.outbox.lost) or len(self.counts.undelivered)
        )

    def status_text(self, now_s: float) -> str:
        """The state and the counts in one line.

        Args:
            now_s: The monotonic clock.
        """
        parts = [self._state_text(now_s), f"{self.counts.delivered} sent", *self._status_details()]
        if len(self.outbox):
            parts.append(f"{len(self.outbox)} queued")
        for losses, label in (
            (self.outbox.lost, "dropped, queue full"), (self.counts.given_up, "failed"),
            (self.counts.undelivered, "not sent at shutdown"),
        ):  # fmt: skip
            if len(losses):
                parts.append(f"{losses} {label}")
        return f"{self.name}: {', '.join(part for part in parts if part)}"

    def _status_details(self) -> list[str]:
        """More parts of the status text, from a subclass."""
        return []

    def _state_text(self, now_s: float) -> str:
        if self._disabled:
            return f"disabled: {self.trouble}"
        if self.trouble and self.retry_at_s is not None:
            return f"{self.trouble}; trying again in {max(0.0, self.retry_at_s - now_s):.0f} s"
        if self.trouble:
            return self.trouble
        if self._closing.is_set():
            return "closed"
        return "open" if self._is_open else "opening"

    async def _send_queued(self) -> None:
        try:
            await self._retrying(self._stop_opening)(self._attempt_open)
        except Exception as error:  # noqa: BLE001 - a subclass may fail in any way; the notifier is then disabled
            self._disable(error)
            return
        self._is_open, self.trouble = True, ""
        alongside = asyncio.create_task(self._guard_alongside())
        try:
            while (message := await self.outbox.get()) is not None:
                await self._deliver(message)
        finally:
            alongside.cancel()
            await asyncio.gather(alongside, return_exceptions=True)

    async def _guard_alongside(self) -> None:
        try:
            await self._run_alongside()
        except Exception as error:  # noqa: BLE001 - sending continues without it
            self._log.error("background task failed", why=repr(error))

    async def _deliver(self, message: Envelope) -> None:
        """Send one message with retries within the limits."""
        began_s = self.clock()

        def stop(state: RetryCallState) -> bool:
            late = self.clock() - began_s >= self.limits.give_up_after_s
            return self._closing.is_set() or late or state.attempt_number >= self.limits.max_attempts

        try:
            await self._retrying(stop)(self._attempt_send, message)
        except asyncio.CancelledError:
            self.counts.undelivered.add(message)
            raise
        except Exception as error:  # noqa: BLE001 - a subclass may fail in any way; the next message is sent
            self._give_up(message, error)

    async def _attempt_open(self) -> None:
        await self._attempt(self._open())

    async def _attempt_send(self, message: Envelope) -> None:
        await self._attempt(self._send(message))
        self.counts.delivered += message.kind != "lost"
        self.trouble = ""

    async def _attempt(self, action: Awaitable[None]) -> None:
        """Make one attempt within the timeout; record a failure."""
        self.retry_at_s = None
        try:
            async with asyncio.timeout(self.limits.attempt_timeout_s):
                await action
        except TimeoutError:
            self.trouble = f"no answer within {self.limits.attempt_timeout_s:g} s"
            raise SendError(self.trouble) from None
        except SendError as error:
            self.trouble = str(error)
            raise
        except Exception as error:
            self.trouble = f"unexpected error: {error!r}"
            raise

    def _retrying(self, stop: Callable[[RetryCallState], bool]) -> AsyncRetrying:
        retry = retry_if_exception(lambda error: isinstance(error, SendError) and error.retry)
        return AsyncRetrying(
            sleep=self._wait_before_retry, stop=stop, wait=self._delay_s, retry=retry, reraise=True
        )

    def _stop_opening(self, _: RetryCallState) -> bool:
        return self._closing.is_set()

    def _delay_s(self, state: RetryCallState) -> float:
        error = state.outcome.exception() if state.outcome is not None else None
        requested_s = error.retry_after_s if isinstance(error, SendError) else 0.0
        return min(max(self._back_off.after(state.attempt_number), requested_s), self.limits.max_delay_s)

    async def _wait_before_retry(self, delay_s: float) -> None:
        """Wait before the next attempt, or until the notifier is closed."""
        # `close` must not wait for a delay of up to 30 s, so the delay races against the closing event.
        self.retry_at_s = self.clock() + delay_s
        self._log.warning("will retry", why=self.trouble, in_s=round(delay_s, 1))
        waiting = (asyncio.ensure_future(self._wait(delay_s)), asyncio.ensure_future(self._closing.wait()))
        try:
            await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in waiting:
                task.cancel()
            await asyncio.gather(*waiting, return_exceptions=True)

    def _give_up(self, message: Envelope, error: Exception) -> None:
        """Give up one message; if the receiver is unreachable at shutdown, count the whole queue as undelivered."""
        # While closing there is one attempt at each message.  If the receiver does not answer that one, each of the others
        # would take a whole timeout, which the two seconds for closing do not have.
        if self._closing.is_set() and isinstance(error, SendError) and error.retry:
            self.counts.undelivered.add(message)
            self._count_undelivered()
            return
        if message.kind != "lost":
            self.counts.given_up.add(message)
        self._log.warning("message failed", why=str(error), kind=message.kind, sequence=message.sequence)

    def _disable(self, error: Exception) -> None:
        """Permanently failed: give up queued and future messages."""
        if isinstance(error, SendError) and error.retry:
            return  # closed before it could be opened
        self._disabled = True
        self._log.warning("notifier disabled", why=str(error))
        for message in self.outbox.drain():
            self.counts.given_up.add(message)

    def _count_undelivered(self) -> None:
        for message in self.outbox.drain():
            self.counts.undelivered.add(message)

    async def _release(self) -> None:
        with suppress(Exception):  # a resource that cannot be released is left
            async with asyncio.timeout(CLOSE_TIMEOUT_S):
                await self._close()
