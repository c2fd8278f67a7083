"""Runs several notifiers in tasks of their own, so that none delays another or the judging.

    group = NotifierGroup(make_notifiers(addresses))
    device.bus.subscribe(group.feed(device.id), *KINDS)
    async with group: ...

Takes: events of one or several devices.  Gives: the same numbered messages to every notifier.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from types import TracebackType
from typing import Self

import structlog

from bridge.outputs.notifiers.base import CLOSE_TIMEOUT_S, Notifier
from bridge.outputs.notifiers.envelope import DEFAULT_DEVICE, Envelope, EnvelopeBuilder
from bridge.session.session_events import SessionEvent, SessionStarted

CANCEL_TIMEOUT_S = 2 * CLOSE_TIMEOUT_S
"""Time for a cancelled notifier to release its resources; one that does not end in time is abandoned."""


class NotifierFeed:
    """A subscriber of one device: makes messages of its events and publishes them; never waits, never raises."""

    def __init__(self, group: NotifierGroup, envelopes: EnvelopeBuilder) -> None:
        """Make the subscriber.

        Args:
            group: The notifiers.
            envelopes: Makes the messages of the device.
        """
        self._group = group
        self.envelopes = envelopes

    def __call__(self, event: SessionEvent) -> None:
        """Publish one event; the event of a session's start is the first message of that session."""
        try:
            if isinstance(event, SessionStarted):
                self.envelopes.begin_session()
            message = self.envelopes(event)
        except Exception as error:  # noqa: BLE001 - an event that cannot be converted must not stop the session
            self._group.record_failure("the message", error)
            return
        self._group.publish(message)


class NotifierGroup:
    """A group of notifiers, run as an async context manager."""

    def __init__(self, notifiers: Sequence[Notifier]) -> None:
        """Make the group; messages published before it runs are queued by each notifier.

        Args:
            notifiers: The notifiers; may be empty.
        """
        self.notifiers = tuple(notifiers)
        self.failures = 0
        self._tasks: list[asyncio.Task[None]] = []
        self._log = structlog.get_logger("notify")

    def feed(self, device: str = DEFAULT_DEVICE) -> NotifierFeed:
        """Make a subscriber for the sessions of a device.

        Raises:
            ValueError: The id of the device cannot be part of a topic.
        """
        return NotifierFeed(self, EnvelopeBuilder(device))

    def publish(self, message: Envelope) -> None:
        """Enqueue one message in every notifier; never waits, never raises."""
        for notifier in self.notifiers:
            try:
                notifier.enqueue(message)
            except Exception as error:  # noqa: BLE001 - a third party's notifier may fail in any way
                self.record_failure(notifier.name, error)

    def record_failure(self, name: str, error: Exception) -> None:
        """Count and log an unexpected error."""
        self.failures += 1
        self._log.error("an output failed", notifier=name, why=repr(error))

    def status_texts(self, now_s: float) -> list[str]:
        """The status text of each notifier."""
        return [notifier.status_text(now_s) for notifier in self.notifiers]

    async def __aenter__(self) -> Self:
        """Start every notifier."""
        self._tasks = [
            asyncio.create_task(self._run_guarded(each), name=each.name) for each in self.notifiers
        ]
        return self

    async def __aexit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:  # fmt: skip
        """Close every notifier."""
        await self.close()

    async def close(self, timeout_s: float = CLOSE_TIMEOUT_S) -> None:
        """Let each notifier send its queue within the timeout, then cancel it.

        Args:
            timeout_s: The time for all notifiers together, since they close at the same time.
        """
        for notifier in self.notifiers:
            try:
                notifier.close()
            except Exception as error:  # noqa: BLE001 - the others must be closed too
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
        """Run a notifier; an error in its code ends only this notifier."""
        try:
            await notifier.run()
        except Exception as error:  # noqa: BLE001 - one broken notifier must not end the others
            self.record_failure(notifier.name, error)
