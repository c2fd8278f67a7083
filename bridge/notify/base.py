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

from bridge.notify.envelope import Envelope, chosen
from bridge.notify.outbox import HELD_AT_MOST, Losses, Outbox
from rules.faults import HoldshortError

CLOSE_WITHIN_S = 2.0
Clock = Callable[[], float]
Wait = Callable[[float], Awaitable[object]]


class SendError(HoldshortError):
    """A message did not go out: why, whether to try it again, and after how long at the least (seconds)."""

    def __init__(self, why: str, *, again: bool = True, after_s: float = 0.0) -> None:
        """Keep all three."""
        super().__init__(why)
        self.again = again
        self.after_s = after_s


@dataclass(frozen=True, slots=True)
class Bounds:
    """How much a notifier holds and how long it tries.

    Attributes:
        held: Messages that may wait.
        tries: How often one message is tried.
        try_s: How long one try may take.
        within_s: No new try of a message begins after so many seconds.
        first_s: The pause after the first failure; then it doubles.
        longest_s: The longest pause.
    """

    held: int = HELD_AT_MOST
    tries: int = 10
    try_s: float = 10.0
    within_s: float = 300.0
    first_s: float = 1.0
    longest_s: float = 30.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which kinds go out: those that begin with a word of `only` (none: all), but not those of `but`."""

    only: tuple[str, ...] = ()
    but: tuple[str, ...] = ()

    def __contains__(self, kind: str) -> bool:
        return (not self.only or chosen(kind, self.only)) and not chosen(kind, self.but)


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

    heard: int = 0
    sent: int = 0
    failures: int = 0
    failed: Losses = field(default_factory=Losses)
    unsent: Losses = field(default_factory=Losses)


class Notifier(ABC):
    """One way out."""

    wanted = Wanted()

    def __init__(
        self,
        name: str,
        *,
        bounds: Bounds | None = None,
        wanted: Wanted | None = None,
        clock: Clock = time.monotonic,
        wait: Wait = asyncio.sleep,
    ) -> None:
        """Nothing is opened yet.

        Args:
            name: How sentences call it; holds no secret.
            bounds: How much it holds and how long it tries.
            wanted: Which kinds go out; None: those that the class says.
            clock: The monotonic clock in seconds.
            wait: Waits so many seconds.
        """
        self.name = name
        self.bounds = bounds or Bounds()
        self.wanted = wanted or self.wanted
        self.clock = clock
        self.counts = NotifierCounts()
        self.trouble = ""
        self.retry_at_s: float | None = None
        self.outbox = Outbox(self.bounds.held)
        self._wait = wait
        self._closing = asyncio.Event()
        self._broken = False
        self._open_now = False
        self._log = structlog.get_logger("notify").bind(notifier=name)
        pauses = self.bounds
        self._back_off = wait_exponential_jitter(
            multiplier=pauses.first_s, max=pauses.longest_s, jitter=pauses.first_s / 4
        )

    async def _open(self) -> None:  # noqa: B027 - there may be nothing to do
        """Get ready to send; raise `SendError` where that cannot be done (now, or ever)."""

    @abstractmethod
    async def _send(self, message: Envelope) -> None:
        """Send one message; raise `SendError` where it did not go out.  May be cancelled at any await."""

    async def _beside(self) -> None:  # noqa: B027 - there may be nothing to do
        """What else goes on while it is open; cancelled at the end."""

    async def _close(self) -> None:  # noqa: B027 - there may be nothing to do
        """Let go of everything that `_open` took."""

    def hear(self, message: Envelope) -> None:
        """Hold one message until it can be sent; never waits, never raises."""
        if message.kind not in self.wanted:
            return
        self.counts.heard += 1
        if self._broken:
            self.counts.failed.add(message)
        elif self._closing.is_set():
            self.counts.unsent.add(message)
        else:
            self.outbox.put(message)

    async def run(self) -> None:
        """Send until it is closed and nothing is held, or it is cancelled; what is then held is counted."""
        try:
            await self._keep_sending()
            self._abandon()
        except asyncio.CancelledError:
            self._abandon()
            raise
        finally:
            self._open_now = False
            await self._let_go()

    def close(self) -> None:
        """Take nothing more: `run` sends what is held, trying nothing twice, and ends."""
        self._closing.set()
        self.outbox.shut()

    @property
    def healthy(self) -> bool:
        """Whether nobody need do anything about it."""
        return not (
            self.trouble or len(self.counts.failed) or len(self.outbox.lost) or len(self.counts.unsent)
        )

    def words(self, now_s: float) -> str:
        """One sentence on how it stands.

        Args:
            now_s: The monotonic clock.
        """
        parts = [self._standing(now_s), f"{self.counts.sent} sent", *self._extra()]
        if len(self.outbox):
            parts.append(f"{len(self.outbox)} held")
        for losses, what in (
            (self.outbox.lost, "lost to a full outbox"), (self.counts.failed, "given up"),
            (self.counts.unsent, "not sent before the end"),
        ):  # fmt: skip
            if len(losses):
                parts.append(f"{losses} {what}")
        return f"{self.name}: {', '.join(part for part in parts if part)}"

    def _extra(self) -> list[str]:
        """What else a subclass has to say."""
        return []

    def _standing(self, now_s: float) -> str:
        if self._broken:
            return f"out of order: {self.trouble}"
        if self.trouble and self.retry_at_s is not None:
            return f"{self.trouble}; trying again in {max(0.0, self.retry_at_s - now_s):.0f} s"
        if self.trouble:
            return self.trouble
        if self._closing.is_set():
            return "closed"
        return "open" if self._open_now else "opening"

    async def _keep_sending(self) -> None:
        try:
            await self._retrying(self._stop_opening)(self._try_to_open)
        except Exception as error:  # noqa: BLE001 - a subclass may fail in any way; it is out of order then
            self._break(error)
            return
        self._open_now, self.trouble = True, ""
        beside = asyncio.create_task(self._go_beside())
        try:
            while (message := await self.outbox.take()) is not None:
                await self._deliver(message)
        finally:
            beside.cancel()
            await asyncio.gather(beside, return_exceptions=True)

    async def _go_beside(self) -> None:
        try:
            await self._beside()
        except Exception as error:  # noqa: BLE001 - sending goes on without it
            self._log.error("what goes on beside failed", why=repr(error))

    async def _deliver(self, message: Envelope) -> None:
        """Send one message, whatever it takes within the bounds."""
        began_s = self.clock()

        def stop(state: RetryCallState) -> bool:
            late = self.clock() - began_s >= self.bounds.within_s
            return self._closing.is_set() or late or state.attempt_number >= self.bounds.tries

        try:
            await self._retrying(stop)(self._try_to_send, message)
        except asyncio.CancelledError:
            self.counts.unsent.add(message)
            raise
        except Exception as error:  # noqa: BLE001 - a subclass may fail in any way; the next message goes on
            self._give_up(message, error)

    async def _try_to_open(self) -> None:
        await self._try(self._open())

    async def _try_to_send(self, message: Envelope) -> None:
        await self._try(self._send(message))
        self.counts.sent += message.kind != "lost"
        self.trouble = ""

    async def _try(self, doing: Awaitable[None]) -> None:
        """One try, bounded in time; a failure is noted."""
        self.retry_at_s = None
        try:
            async with asyncio.timeout(self.bounds.try_s):
                await doing
        except TimeoutError:
            self._note(f"no answer within {self.bounds.try_s:g} s")
            raise SendError(self.trouble) from None
        except SendError as error:
            self._note(str(error))
            raise
        except Exception as error:
            self._note(f"it failed in a way nobody thought of: {error!r}")
            raise

    def _note(self, why: str) -> None:
        self.trouble = why
        self.counts.failures += 1

    def _retrying(self, stop: Callable[[RetryCallState], bool]) -> AsyncRetrying:
        again = retry_if_exception(lambda error: isinstance(error, SendError) and error.again)
        return AsyncRetrying(sleep=self._pause, stop=stop, wait=self._pause_s, retry=again, reraise=True)

    def _stop_opening(self, _: RetryCallState) -> bool:
        return self._closing.is_set()

    def _pause_s(self, state: RetryCallState) -> float:
        error = state.outcome.exception() if state.outcome is not None else None
        asked_s = error.after_s if isinstance(error, SendError) else 0.0
        return min(max(self._back_off(state), asked_s), self.bounds.longest_s)

    async def _pause(self, pause_s: float) -> None:
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
        if self._closing.is_set() and isinstance(error, SendError) and error.again:
            self.counts.unsent.add(message)
            self._abandon()
            return
        if message.kind != "lost":
            self.counts.failed.add(message)
        self._log.warning("given up", why=str(error), kind=message.kind, sequence=message.sequence)

    def _break(self, error: Exception) -> None:
        """It can never work here: all that it holds and hears is given up."""
        if isinstance(error, SendError) and error.again:
            return  # it was closed before it could be opened
        self._broken = True
        self._log.warning("out of order", why=str(error))
        for message in self.outbox.empty():
            self.counts.failed.add(message)

    def _abandon(self) -> None:
        for message in self.outbox.empty():
            self.counts.unsent.add(message)

    async def _let_go(self) -> None:
        with suppress(Exception):  # what cannot be let go is left; there is nobody to tell
            async with asyncio.timeout(CLOSE_WITHIN_S):
                await self._close()
