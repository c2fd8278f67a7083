"""What every way out is: it hears messages, holds a bounded number, and sends them one after the other.

`hear` takes the same short time whatever goes on and never raises.  `run` sends until the notifier is closed: what
fails is tried again with growing pauses, within bounds; what is given up is counted and named.  A subclass says in
`_send` how one message goes out and raises `SendError` where it did not; everything else is done here.

Takes: envelopes.  Gives: messages sent, counts, and a sentence on how it stands.
"""

from __future__ import annotations

import asyncio
import time
from abc import ABC, abstractmethod
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass, field

import structlog
from tenacity import AsyncRetrying, RetryCallState, retry_if_exception, wait_exponential_jitter

from bridge.outputs.notifiers.envelope import Envelope, kind_matches
from bridge.outputs.notifiers.outbox import MAX_QUEUED, MessageLosses, Outbox
from rules.faults import HoldshortError

CLOSE_TIMEOUT_S = 2.0
Clock = Callable[[], float]
Wait = Callable[[float], Awaitable[object]]


class SendError(HoldshortError):
    """A message did not go out: why, whether to try it again, and after how long at the least (seconds)."""

    def __init__(self, why: str, *, retry: bool = True, retry_after_s: float = 0.0) -> None:
        """Keep all three."""
        super().__init__(why)
        self.retry = retry
        self.retry_after_s = retry_after_s


@dataclass(frozen=True, slots=True)
class DeliveryLimits:
    """How much a notifier holds and how long it tries.

    Attributes:
        held: Messages that may wait.
        tries: How often one message is tried.
        try_s: How long one try may take.
        within_s: No new try of a message begins after so many seconds.
        first_s: The pause after the first failure; then it doubles.
        longest_s: The longest pause.
    """

    max_queued: int = MAX_QUEUED
    max_attempts: int = 10
    attempt_timeout_s: float = 10.0
    give_up_after_s: float = 300.0
    first_delay_s: float = 1.0
    max_delay_s: float = 30.0


@dataclass(frozen=True, slots=True)
class KindFilter:
    """Which kinds go out: those that begin with a word of `only` (none: all), but not those of `but`."""

    include: tuple[str, ...] = ()
    exclude: tuple[str, ...] = ()

    def __contains__(self, kind: str) -> bool:
        return (not self.include or kind_matches(kind, self.include)) and not kind_matches(kind, self.exclude)


@dataclass(slots=True)
class NotifierCounts:
    """Counters since the notifier was made; what was lost to a full outbox is in `Outbox.lost`.

    Attributes:
        heard: Messages of wanted kinds.
        sent: Those that went out.
        failures: Tries that failed.
        failed: Given up, after all tries or because they were refused.
        unsent: Still held when it was closed.
    """

    accepted: int = 0
    delivered: int = 0
    failed_attempts: int = 0
    given_up: MessageLosses = field(default_factory=MessageLosses)
    undelivered: MessageLosses = field(default_factory=MessageLosses)


class Notifier(ABC):
    """One way out."""

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
        """Nothing is opened yet.

        Args:
            name: How sentences call it; holds no secret.
            limits: How much it holds and how long it tries.
            kind_filter: Which kinds go out; None: those that the class says.
            clock: The monotonic clock in seconds.
            wait: Waits so many seconds.
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
        pauses = self.limits
        self._back_off = wait_exponential_jitter(
            multiplier=pauses.first_delay_s, max=pauses.max_delay_s, jitter=pauses.first_delay_s / 4
        )

    async def _open(self) -> None:  # noqa: B027 - there may be nothing to do
        """Get ready to send; raise `SendError` where that cannot be done (now, or ever)."""

    @abstractmethod
    async def _send(self, message: Envelope) -> None:
        """Send one message; raise `SendError` where it did not go out.  May be cancelled at any await."""

    async def _run_alongside(self) -> None:  # noqa: B027 - there may be nothing to do
        """What else goes on while it is open; cancelled at the end."""

    async def _close(self) -> None:  # noqa: B027 - there may be nothing to do
        """Let go of everything that `_open` took."""

    def enqueue(self, message: Envelope) -> None:
        """Hold one message until it can be sent; never waits, never raises."""
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
        """Send until it is closed and nothing is held, or it is cancelled; what is then held is counted."""
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
        """Take nothing more: `run` sends what is held, trying nothing twice, and ends."""
        self._closing.set()
        self.outbox.close()

    @property
    def healthy(self) -> bool:
        """Whether nobody need do anything about it."""
        return not (
            self.trouble or len(self.counts.given_up) or len(self.outbox.lost) or len(self.counts.undelivered)
        )

    def status_text(self, now_s: float) -> str:
        """One sentence on how it stands.

        Args:
            now_s: The monotonic clock.
        """
        parts = [self._state_text(now_s), f"{self.counts.delivered} sent", *self._status_details()]
        if len(self.outbox):
            parts.append(f"{len(self.outbox)} held")
        for losses, what in (
            (self.outbox.lost, "lost to a full outbox"), (self.counts.given_up, "given up"),
            (self.counts.undelivered, "not sent before the end"),
        ):  # fmt: skip
            if len(losses):
                parts.append(f"{losses} {what}")
        return f"{self.name}: {', '.join(part for part in parts if part)}"

    def _status_details(self) -> list[str]:
        """What else a subclass has to say."""
        return []

    def _state_text(self, now_s: float) -> str:
        if self._disabled:
            return f"out of order: {self.trouble}"
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
        except Exception as error:  # noqa: BLE001 - a subclass may fail in any way; it is out of order then
            self._disable(error)
            return
        self._is_open, self.trouble = True, ""
        beside = asyncio.create_task(self._guard_alongside())
        try:
            while (message := await self.outbox.get()) is not None:
                await self._deliver(message)
        finally:
            beside.cancel()
            await asyncio.gather(beside, return_exceptions=True)

    async def _guard_alongside(self) -> None:
        try:
            await self._run_alongside()
        except Exception as error:  # noqa: BLE001 - sending goes on without it
            self._log.error("what goes on beside failed", why=repr(error))

    async def _deliver(self, message: Envelope) -> None:
        """Send one message, whatever it takes within the bounds."""
        began_s = self.clock()

        def stop(state: RetryCallState) -> bool:
            late = self.clock() - began_s >= self.limits.give_up_after_s
            return self._closing.is_set() or late or state.attempt_number >= self.limits.max_attempts

        try:
            await self._retrying(stop)(self._attempt_send, message)
        except asyncio.CancelledError:
            self.counts.undelivered.add(message)
            raise
        except Exception as error:  # noqa: BLE001 - a subclass may fail in any way; the next message goes on
            self._give_up(message, error)

    async def _attempt_open(self) -> None:
        await self._attempt(self._open())

    async def _attempt_send(self, message: Envelope) -> None:
        await self._attempt(self._send(message))
        self.counts.delivered += message.kind != "lost"
        self.trouble = ""

    async def _attempt(self, action: Awaitable[None]) -> None:
        """One try, bounded in time; a failure is noted."""
        self.retry_at_s = None
        try:
            async with asyncio.timeout(self.limits.attempt_timeout_s):
                await action
        except TimeoutError:
            self._record_failure(f"no answer within {self.limits.attempt_timeout_s:g} s")
            raise SendError(self.trouble) from None
        except SendError as error:
            self._record_failure(str(error))
            raise
        except Exception as error:
            self._record_failure(f"it failed in a way nobody thought of: {error!r}")
            raise

    def _record_failure(self, why: str) -> None:
        self.trouble = why
        self.counts.failed_attempts += 1

    def _retrying(self, stop: Callable[[RetryCallState], bool]) -> AsyncRetrying:
        again = retry_if_exception(lambda error: isinstance(error, SendError) and error.retry)
        return AsyncRetrying(
            sleep=self._wait_before_retry, stop=stop, wait=self._delay_s, retry=again, reraise=True
        )

    def _stop_opening(self, _: RetryCallState) -> bool:
        return self._closing.is_set()

    def _delay_s(self, state: RetryCallState) -> float:
        error = state.outcome.exception() if state.outcome is not None else None
        asked_s = error.retry_after_s if isinstance(error, SendError) else 0.0
        return min(max(self._back_off(state), asked_s), self.limits.max_delay_s)

    async def _wait_before_retry(self, pause_s: float) -> None:
        """Wait before the next try, or until it is closed."""
        self.retry_at_s = self.clock() + pause_s
        self._log.warning("will try again", why=self.trouble, in_s=round(pause_s, 1))
        waiting = (asyncio.ensure_future(self._wait(pause_s)), asyncio.ensure_future(self._closing.wait()))
        try:
            await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in waiting:
                task.cancel()
            await asyncio.gather(*waiting, return_exceptions=True)

    def _give_up(self, message: Envelope, error: Exception) -> None:
        """One message is given up; where we are closing and nobody is there, all that follow are unsent."""
        if self._closing.is_set() and isinstance(error, SendError) and error.retry:
            self.counts.undelivered.add(message)
            self._count_undelivered()
            return
        if message.kind != "lost":
            self.counts.given_up.add(message)
        self._log.warning("given up", why=str(error), kind=message.kind, sequence=message.sequence)

    def _disable(self, error: Exception) -> None:
        """It can never work here: all that it holds and hears is given up."""
        if isinstance(error, SendError) and error.retry:
            return  # it was closed before it could be opened
        self._disabled = True
        self._log.warning("out of order", why=str(error))
        for message in self.outbox.drain():
            self.counts.given_up.add(message)

    def _count_undelivered(self) -> None:
        for message in self.outbox.drain():
            self.counts.undelivered.add(message)

    async def _release(self) -> None:
        with suppress(Exception):  # what cannot be let go is left; there is nobody to tell
            async with asyncio.timeout(CLOSE_TIMEOUT_S):
                await self._close()
