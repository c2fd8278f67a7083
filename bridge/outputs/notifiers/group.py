"""Runs several ways out side by side, so that none can delay another, nor the judging.

    fan = Fan(choose(addresses))
    rig.listen(fan.ear(rig.id))
    async with fan: ...

Takes: entries of one or several devices.  Gives: the same numbered messages to every notifier, each in its own task.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from types import TracebackType
from typing import Self

import structlog

from bridge.outputs.notifiers.base import CLOSE_TIMEOUT_S, Notifier
from bridge.outputs.notifiers.envelope import DEFAULT_DEVICE, Envelope, EnvelopeBuilder
from bridge.session.session_events import SessionChanged, SessionChangeKind, SessionEvent

CANCEL_TIMEOUT_S = 2 * CLOSE_TIMEOUT_S
"""For one that is cancelled to let go of what it holds; one that does not is left behind."""


class NotifierFeed:
    """Listens to one device: numbers what it hears, and hands it on.  Never waits, never raises."""

    def __init__(self, group: NotifierGroup, envelopes: EnvelopeBuilder) -> None:
        """Nothing heard."""
        self._group = group
        self.envelopes = envelopes

    def __call__(self, entry: SessionEvent) -> None:
        """Take one entry; where it says that a session begins, it is the first of that session."""
        try:
            if isinstance(entry, SessionChanged) and entry.change is SessionChangeKind.STARTED:
                self.envelopes.begin_session()
            message = self.envelopes(entry)
        except Exception as error:  # noqa: BLE001 - an entry that has no plain form may not stop the session
            self._group.record_failure("the message", error)
            return
        self._group.publish(message)


class NotifierGroup:
    """All ways out."""

    def __init__(self, notifiers: Sequence[Notifier]) -> None:
        """Nothing runs yet; what is heard before is held by each notifier.

        Args:
            notifiers: The ways out; there may be none.
        """
        self.notifiers = tuple(notifiers)
        self.failures = 0
        self._tasks: list[asyncio.Task[None]] = []
        self._log = structlog.get_logger("notify")

    def feed(self, device: str = DEFAULT_DEVICE) -> NotifierFeed:
        """A listener for the sessions of a device.

        Raises:
            ValueError: The device's name cannot be part of a topic.
        """
        return NotifierFeed(self, EnvelopeBuilder(device))

    def publish(self, message: Envelope) -> None:
        """Hand one message to every notifier; never waits, never raises."""
        for notifier in self.notifiers:
            try:
                notifier.enqueue(message)
            except Exception as error:  # noqa: BLE001 - somebody else's notifier may fail in any way
                self.record_failure(notifier.name, error)

    def record_failure(self, name: str, error: Exception) -> None:
        """Count and name what failed in a way that nobody thought of."""
        self.failures += 1
        self._log.error("a way out failed", notifier=name, why=repr(error))

    def status_texts(self, now_s: float) -> list[str]:
        """How each stands, a sentence each."""
        return [notifier.status_text(now_s) for notifier in self.notifiers]

    async def __aenter__(self) -> Self:
        """Start every notifier."""
        self._tasks = [
            asyncio.create_task(self._run_guarded(each), name=each.name) for each in self.notifiers
        ]
        return self

    async def __aexit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:  # fmt: skip
        """Close as `close` does."""
        await self.close()

    async def close(self, timeout_s: float = CLOSE_TIMEOUT_S) -> None:
        """Let each send what it holds, at most so long; then end it.

        Args:
            timeout_s: For all of them together, since they close side by side.
        """
        for notifier in self.notifiers:
            try:
                notifier.close()
            except Exception as error:  # noqa: BLE001 - the others are closed all the same
                self.record_failure(notifier.name, error)
        tasks, self._tasks = self._tasks, []
        if not tasks:
            return
        try:
            await asyncio.wait(tasks, timeout=timeout_s)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.wait(tasks, timeout=CANCEL_TIMEOUT_S)

    async def _run_guarded(self, notifier: Notifier) -> None:
        """Run a notifier; where its own code fails it is left out, and the others go on."""
        try:
            await notifier.run()
        except Exception as error:  # noqa: BLE001 - one that is broken may not end the others
            self.record_failure(notifier.name, error)
