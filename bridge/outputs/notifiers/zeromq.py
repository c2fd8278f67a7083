"""ZeroMQ: we publish, whoever wants subscribes; messages are MessagePack under topics.

Topics are `holdshort/DEVICE/KIND` and, where there is an alert level, `/LEVEL`: a subscription is a prefix, so
`holdshort/sim/notice` gives all notices, `holdshort/sim/notice/warning` warnings only.  Who subscribes late gets
`holdshort/DEVICE/state` at once and every few seconds: phase, open findings, and the number of the latest message.

A subscriber that does not read loses messages when the high-water mark is reached (ZeroMQ keeps nothing for it
beyond that, and waits for nobody): the gap shows in the sequence numbers.

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
    """Publishes at an address of this machine."""

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
        """Nothing is opened yet.

        Args:
            host: An address of this machine; another than the loopback address can be reached from outside.
            port: 0: any that is free, told by `port` once it is open.
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
        """Hold one message, and follow how things stand."""
        super().enqueue(message)
        self._retained.setdefault(message.device, RetainedState()).update(message)

    async def _open(self) -> None:
        """Bind.  Extended publisher: it tells of subscriptions, and is else a publisher like any."""
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
                f"cannot publish there: {zmq.strerror(error.errno or 0)}; choose another port"
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
        """Tell how things stand to who comes late: to each subscription, and again and again."""
        async with asyncio.TaskGroup() as tasks:
            tasks.create_task(self._answer_subscriptions())
            tasks.create_task(self._repeat_state())

    async def _close(self) -> None:
        """Let go; what the library still holds for a subscriber is given for a moment, without blocking the loop."""
        context, opened = self._context, self._socket
        self._context = self._socket = None
        if opened is not None:
            opened.close(linger=LINGER_MS)
        if context is not None:
            await asyncio.to_thread(context.term)

    async def _answer_subscriptions(self) -> None:
        while self._socket is not None:
            said = await self._socket.recv()
            if said[:1] == b"\x01":
                self.subscriptions += 1
                await self._publish_state()

    async def _repeat_state(self) -> None:
        while True:
            await self._wait(STATE_PERIOD_S)
            await self._publish_state()

    async def _publish_state(self) -> None:
        """Before the first message there is nothing to tell."""
        for standing in list(self._retained.values()):
            message = standing.message()
            if message is not None:
                await self._send(message)

    def _status_details(self) -> list[str]:
        seen = "nobody has subscribed yet" if not self.subscriptions else ""
        return [seen, "" if ip_address(self.host).is_loopback else "open to other machines"]


def topic_of(message: Envelope) -> str:
    """The topic of a message."""
    level = f"/{message.level}" if message.level else ""
    return f"holdshort/{message.device}/{message.kind}{level}"


def encode_message(message: Envelope) -> bytes:
    """The message as MessagePack, a map with the same keys as the JSON form."""
    made: bytes = msgpack.packb(message.as_dict(), use_bin_type=True)
    return made


def _display_name(host: str, port: int) -> str:
    return f"zmq-pub {_bracketed(host)}:{port}"


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host else host
