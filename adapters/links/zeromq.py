"""ZeroMQ link: subscribes to a publisher.

The high-water mark is set before connecting, and the linger time is 0, so that closing never hangs.  A ZeroMQ
subscription is a prefix (`eng1` also matches `eng10`); messages of other topics with that prefix are refused here.  In
a message of several parts the last part is the datagram and the first the topic.  A subscriber that is still
connecting misses the publisher's first messages, so the link never waits for a certain first record.

The event loop must be a selector loop (see `udp`).

Takes: an endpoint and a topic.  Gives: a `Link`.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from typing import TYPE_CHECKING

from adapters.links.base import Clock, Link, LinkLimits
from rules.faults import LinkError

if TYPE_CHECKING:
    import zmq.asyncio

_HIGH_WATER_MARK = 2000
_MESSAGES_PER_TURN = 32
"""Messages that are read before judging, clients and signals have their turn: while some wait, receiving never pauses."""


class ZmqLink(Link):
    """ZeroMQ subscriber; the library connects again by itself."""

    def __init__(
        self,
        endpoint: str,
        *,
        topic: str = "",
        clock: Clock = time.monotonic,
        limits: LinkLimits | None = None,
    ) -> None:
        """Prepare the link; it connects when it is opened.

        Args:
            endpoint: The publisher's endpoint, such as `tcp://127.0.0.1:5563`.
            topic: The exact topic; '' receives all messages.
            clock: The monotonic clock in seconds.
            limits: The limits of the queue.
        """
        super().__init__(f"zmq {endpoint}" + (f" topic {topic}" if topic else ""), clock=clock, limits=limits)
        self.endpoint = endpoint
        self._topic = topic.encode()
        self._context: zmq.asyncio.Context | None = None
        self._socket: zmq.asyncio.Socket | None = None
        self._task: asyncio.Task[None] | None = None

    async def _open(self) -> None:
        """Subscribe and connect; an absent publisher is not an error."""
        import zmq
        import zmq.asyncio

        self._context = zmq.asyncio.Context()
        opened = self._context.socket(zmq.SUB)
        opened.setsockopt(zmq.RCVHWM, _HIGH_WATER_MARK)
        opened.setsockopt(zmq.LINGER, 0)
        opened.setsockopt(zmq.SUBSCRIBE, self._topic)
        try:
            opened.connect(self.endpoint)
        except zmq.ZMQError as error:
            opened.close()
            self._context.term()
            raise LinkError(
                f"{self.name}: {error.strerror}, expected an address such as tcp://127.0.0.1:5563"
            ) from error
        self._socket = opened
        self._task = asyncio.get_running_loop().create_task(self._receive(opened))

    async def _close(self) -> None:
        """Close the socket and the context without waiting."""
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
        if self._socket is not None:
            self._socket.close(linger=0)
        if self._context is not None:
            self._context.term()
        self._task = self._socket = self._context = None

    async def _receive(self, opened: zmq.asyncio.Socket) -> None:
        """Receive messages until the link is closed."""
        import zmq

        in_a_row = 0
        try:
            while True:
                parts = await opened.recv_multipart()
                in_a_row += 1
                if in_a_row >= _MESSAGES_PER_TURN:
                    in_a_row = 0
                    await asyncio.sleep(0)
                if self._topic and (len(parts) < 2 or parts[0] != self._topic):
                    self.counts.refused += 1
                else:
                    self._enqueue(parts[-1], self.endpoint)
        except zmq.ZMQError as error:
            self._fail(LinkError(f"{self.name}: reception failed: {error.strerror}"))
