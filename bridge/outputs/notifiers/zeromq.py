"""A notifier that publishes messages over ZeroMQ, as MessagePack under topics.

Topics are `holdshort/DEVICE/KIND`, then `/LEVEL` if there is an alert level.  A subscription is a prefix:
`holdshort/sim/notice` matches all notices, `holdshort/sim/notice/warning` only warnings.  A late subscriber gets
`holdshort/DEVICE/state` at once and every few seconds: phase, open findings, and the number of the latest message.

A subscriber that does not read loses messages above the high-water mark (ZeroMQ does not wait for it): the sequence numbers
then have a gap.

Takes: envelopes.  Gives: messages of two parts, topic and body.
"""

from __future__ import annotations

import asyncio
import time
from ipaddress import ip_address
from typing import TYPE_CHECKING

import msgpack

from bridge.outputs.notifiers.base import Clock, DeliveryLimits, KindFilter, Notifier, SendError, Wait
from bridge.outputs.notifiers.envelope import Envelope
from bridge.outputs.notifiers.retained_state import RetainedState

if TYPE_CHECKING:
    import zmq.asyncio

HIGH_WATER_MARK = 1000
STATE_PERIOD_S = 2.0
LINGER_MS = 200
LOOPBACK = "127.0.0.1"


class ZmqNotifier(Notifier):
    """Publishes messages at an address of this machine."""

    def __init__(
        self,
        host: str = LOOPBACK,
        port: int = 0,
        *,
        limits: DeliveryLimits | None = None,
        kind_filter: KindFilter | None = None,
        clock: Clock = time.monotonic,
        wait: Wait = asyncio.sleep,
    ) -> None:
        """Make a publisher.

        Args:
            host: An address of this machine; any other than the loopback address can be reached from outside.
            port: The port; 0 for a free one, which `port` has once the notifier is open.
            limits: As for every notifier.
            kind_filter: As for every notifier.
            clock: As for every notifier.
            wait: As for every notifier.
        """
        super().__init__(
            _display_name(host, port), limits=limits, kind_filter=kind_filter, clock=clock, wait=wait
        )
        self.host, self.port = host, port
        self.subscriptions = 0
        self._retained: dict[str, RetainedState] = {}
        self._context: zmq.asyncio.Context | None = None
        self._socket: zmq.asyncio.Socket | None = None

    def enqueue(self, message: Envelope) -> None:
        """Queue one message, and update the retained state of its device."""
        super().enqueue(message)
        self._retained.setdefault(message.device, RetainedState()).update(message)

    async def _open(self) -> None:
        """Bind an XPUB socket, which reports subscriptions and is otherwise an ordinary publisher."""
        import zmq
        import zmq.asyncio

        context = zmq.asyncio.Context()
        opened = context.socket(zmq.XPUB)
        opened.setsockopt(zmq.SNDHWM, HIGH_WATER_MARK)
        opened.setsockopt(zmq.LINGER, 0)
        opened.setsockopt(zmq.XPUB_VERBOSE, 1)
        opened.setsockopt(zmq.IPV6, int(":" in self.host))
        try:
            opened.bind(f"tcp://{_bracketed(self.host)}:{self.port or '*'}")
        except zmq.ZMQError as error:
            opened.close()
            context.term()
            raise SendError(
                f"cannot publish at this address: {zmq.strerror(error.errno or 0)}; choose another port"
            ) from error
        self._context, self._socket = context, opened
        self.port = int(bytes(opened.getsockopt(zmq.LAST_ENDPOINT)).rstrip(b"\x00").rpartition(b":")[2])
        self.name = _display_name(self.host, self.port)

    async def _send(self, message: Envelope) -> None:
        import zmq

        if self._socket is None:
            raise SendError("not open")
        try:
            await self._socket.send_multipart([topic_of(message).encode(), encode_message(message)])
        except zmq.ZMQError as error:
            raise SendError(f"cannot publish: {zmq.strerror(error.errno or 0)}") from error

    async def _run_alongside(self) -> None:
        """Publish the retained state at each new subscription, and periodically."""
        async with asyncio.TaskGroup() as tasks:
            tasks.create_task(self._answer_subscriptions())
            tasks.create_task(self._repeat_state())

    async def _close(self) -> None:
        """Close the socket; the library sends its own queue for `LINGER_MS`, in a thread that does not block the loop."""
        context, opened = self._context, self._socket
        self._context = self._socket = None
        if opened is not None:
            opened.close(linger=LINGER_MS)
        if context is not None:
            await asyncio.to_thread(context.term)

    async def _answer_subscriptions(self) -> None:
        while self._socket is not None:
            received = await self._socket.recv()
            if received[:1] == b"\x01":
                self.subscriptions += 1
                await self._publish_state()

    async def _repeat_state(self) -> None:
        while True:
            await self._wait(STATE_PERIOD_S)
            await self._publish_state()

    async def _publish_state(self) -> None:
        """Publish the state of each device that has had a message."""
        for retained in list(self._retained.values()):
            message = retained.message()
            if message is not None:
                await self._send(message)

    def _status_details(self) -> list[str]:
        subscribers = "no subscriber yet" if not self.subscriptions else ""
        return [subscribers, "" if ip_address(self.host).is_loopback else "open to other machines"]


def topic_of(message: Envelope) -> str:
    """The topic of a message: device, kind, and alert level if it has one."""
    level = f"/{message.level}" if message.level else ""
    return f"holdshort/{message.device}/{message.kind}{level}"


def encode_message(message: Envelope) -> bytes:
    """Encode a message as MessagePack, a map with the same keys as the JSON form."""
    encoded: bytes = msgpack.packb(message.as_dict(), use_bin_type=True)
    return encoded


def _display_name(host: str, port: int) -> str:
    return f"zmq-pub {_bracketed(host)}:{port}"


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host else host
