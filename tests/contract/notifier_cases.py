"""Cases of the notifier suite: each notifier with a receiver.

A module of another package adds its own to `NOTIFIERS` when it is imported; see `third_party`.

Takes: the clock, the wait and the limits of a test.  Gives: `NOTIFIERS`.
"""

from __future__ import annotations

import asyncio
import json
import socket
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import msgpack
import zmq
import zmq.asyncio

from bridge.outputs.notifiers.audio_player import AudioError, AudioPlayer
from bridge.outputs.notifiers.base import DeliveryLimits, Notifier, SendError
from bridge.outputs.notifiers.envelope import Envelope
from bridge.outputs.notifiers.memory import MemoryNotifier
from bridge.outputs.notifiers.sound import SoundNotifier
from bridge.outputs.notifiers.tones import RATE_HZ
from bridge.outputs.notifiers.udp_line import UdpLineNotifier, format_line
from bridge.outputs.notifiers.webhook import WebhookNotifier
from bridge.outputs.notifiers.zeromq import ZmqNotifier
from tests.contract.third_party import import_third_party
from tests.contract.waiting import ManualClock, wait_until


class ManualSleep:
    """A wait that ends only when the test releases it; `requested_s` lists all waits so far."""

    def __init__(self) -> None:
        self.requested_s: list[float] = []
        self._over = asyncio.Event()

    async def __call__(self, wait_s: float) -> None:
        """Wait until the test releases it."""
        self.requested_s.append(wait_s)
        await self._over.wait()

    def release(self) -> None:
        """End every wait in progress."""
        self._over.set()
        self._over = asyncio.Event()


@dataclass(slots=True)
class NotifierCase:
    """A notifier and its receiver.

    Attributes:
        notifier: The notifier, not running yet; its receiver is up.
        received: The marks of the messages that the receiver has got, in order.
        mark: Gives the part of a message that the receiver gets; None where it gets nothing.
        down: Makes the receiver unreachable; called before the notifier runs.
        up: Makes the receiver reachable again.
        ready: Waits until the receiver gets what is sent; called while the notifier runs.
        delivers_after_outage: True where messages of an outage reach the receiver afterwards.
        receiver_may_come_first: True where the receiver can exist before the notifier runs.
    """

    notifier: Notifier
    received: list[Any]
    mark: Callable[[Envelope], Any]
    down: Callable[[], Awaitable[None]]
    up: Callable[[], Awaitable[None]]
    ready: Callable[[], Awaitable[None]]
    delivers_after_outage: bool
    receiver_may_come_first: bool = True


@dataclass(frozen=True, slots=True)
class NotifierControls:
    """Clock, wait and limits of a notifier, set by the test."""

    clock: ManualClock = field(default_factory=ManualClock)
    wait: ManualSleep = field(default_factory=ManualSleep)
    limits: DeliveryLimits = field(default_factory=DeliveryLimits)

    def arguments(self) -> dict[str, Any]:
        """Give them as arguments of a notifier."""
        return {"clock": self.clock, "wait": self.wait, "limits": self.limits}


Maker: TypeAlias = Callable[[NotifierControls], AbstractAsyncContextManager[NotifierCase]]


async def no_wait() -> None:
    """Return at once."""


def number_and_kind(message: Envelope) -> tuple[int, str]:
    """Identify a message by its number and kind."""
    return (message.sequence, message.kind)


@asynccontextmanager
async def _memory(controls: NotifierControls) -> AsyncIterator[NotifierCase]:
    state: dict[str, bool] = {"down": False}
    got: list[Any] = []

    def refuse(message: Envelope) -> Exception | None:
        if state["down"]:
            return SendError("the receiver is absent")
        got.append(number_and_kind(message))
        return None

    async def set_down(*, down: bool) -> None:
        state["down"] = down

    notifier = MemoryNotifier(error_for=refuse, **controls.arguments())
    yield NotifierCase(
        notifier,
        got,
        number_and_kind,
        lambda: set_down(down=True),
        lambda: set_down(down=False),
        no_wait,
        delivers_after_outage=True,
    )


class HttpReceiver:
    """A small HTTP server that stores what is posted and sends the prepared answers."""

    def __init__(self) -> None:
        self.port = 0
        self.bodies: list[bytes] = []
        self.marks: list[Any] = []
        self.headers: list[dict[str, str]] = []
        self.answers: list[bytes] = []
        self._server: asyncio.Server | None = None
        self._open: set[asyncio.StreamWriter] = set()

    async def start(self) -> None:
        """Listen, at the same port as before after a stop."""
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", self.port)
        self.port = self._server.sockets[0].getsockname()[1]

    async def stop(self) -> None:
        """Stop listening and close all connections."""
        if self._server is not None:
            self._server.close()
            for writer in list(self._open):
                writer.close()
            await self._server.wait_closed()
            self._server = None

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._open.add(writer)
        try:
            while await self._serve_request(reader, writer):
                pass
        except (asyncio.IncompleteReadError, ConnectionError):
            pass
        finally:
            self._open.discard(writer)
            writer.close()

    async def _serve_request(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> bool:
        head = (await reader.readuntil(b"\r\n\r\n")).decode()
        lines = (line.split(": ", 1) for line in head.splitlines()[1:] if line)
        headers = {name.lower(): value for name, value in lines}
        body = await reader.readexactly(int(headers["content-length"]))
        answer = self.answers.pop(0) if self.answers else b"HTTP/1.1 204 No Content\r\n\r\n"
        self.headers.append(headers)
        self.bodies.append(body)
        message = json.loads(body)
        self.marks.append((message["sequence"], message["kind"]))
        writer.write(answer)
        await writer.drain()
        return True


@asynccontextmanager
async def _webhook(controls: NotifierControls) -> AsyncIterator[NotifierCase]:
    receiver = HttpReceiver()
    await receiver.start()
    notifier = WebhookNotifier(f"http://127.0.0.1:{receiver.port}/hook", **controls.arguments())
    try:
        yield NotifierCase(
            notifier,
            receiver.marks,
            number_and_kind,
            receiver.stop,
            receiver.start,
            no_wait,
            delivers_after_outage=True,
        )
    finally:
        await receiver.stop()


@asynccontextmanager
async def _zeromq(controls: NotifierControls) -> AsyncIterator[NotifierCase]:
    """Subscribe to everything but the retained state, which is published besides."""
    context = zmq.asyncio.Context()
    got: list[Any] = []
    notifier = ZmqNotifier(**controls.arguments())
    tasks: list[asyncio.Task[None]] = []
    sockets: list[zmq.asyncio.Socket] = []

    async def receive(opened: zmq.asyncio.Socket) -> None:
        while True:
            topic, data = await opened.recv_multipart()
            if not topic.endswith(b"/state"):
                message = msgpack.unpackb(data)
                got.append((message["sequence"], message["kind"]))

    async def subscribe() -> None:
        await wait_until(lambda: notifier.port != 0)
        seen = notifier.subscriptions
        opened = context.socket(zmq.SUB)
        opened.setsockopt(zmq.LINGER, 0)
        opened.setsockopt(zmq.SUBSCRIBE, b"holdshort/")
        opened.connect(f"tcp://127.0.0.1:{notifier.port}")
        sockets.append(opened)
        tasks.append(asyncio.create_task(receive(opened)))
        await wait_until(lambda: notifier.subscriptions > seen)

    async def leave() -> None:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        for opened in sockets:
            opened.close()
        tasks.clear()
        sockets.clear()

    try:
        yield NotifierCase(
            notifier,
            got,
            number_and_kind,
            leave,
            subscribe,
            subscribe,
            delivers_after_outage=False,
            receiver_may_come_first=False,
        )
    finally:
        await leave()
        context.term()


@asynccontextmanager
async def _udp_line(controls: NotifierControls) -> AsyncIterator[NotifierCase]:
    loop = asyncio.get_running_loop()
    got: list[Any] = []
    sockets: list[socket.socket] = []
    port = 0

    def read() -> None:
        while True:
            try:
                got.append(sockets[0].recv(65536).decode())
            except OSError:
                return

    async def up() -> None:
        nonlocal port
        opened = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        opened.settimeout(0.0)
        opened.bind(("127.0.0.1", port))
        port = opened.getsockname()[1]
        sockets.append(opened)
        loop.add_reader(opened, read)

    async def down() -> None:
        while sockets:
            opened = sockets.pop()
            loop.remove_reader(opened)
            opened.close()

    await up()
    try:
        yield NotifierCase(
            UdpLineNotifier("127.0.0.1", port, **controls.arguments()),
            got,
            format_line,
            down,
            up,
            no_wait,
            delivers_after_outage=False,
        )
    finally:
        await down()


class RecordingPlayer(AudioPlayer):
    """Plays to the null device and records the sounds played to their end; the device can be removed."""

    def __init__(self) -> None:
        super().__init__(RATE_HZ, "NULL")
        self.played: list[bytes] = []
        self.removed = False

    def play(self, samples: bytes) -> None:
        """Play the samples to their end."""
        if self.removed:
            raise AudioError("the audio device was pulled out")
        super().play(samples)
        self.played.append(samples)


SHORT = {"advisory": b"\x01\x00" * 24, "caution": b"\x02\x00" * 48, "warning": b"\x03\x00" * 72}
"""Sounds of a few milliseconds."""


@asynccontextmanager
async def _sound(controls: NotifierControls) -> AsyncIterator[NotifierCase]:
    player = RecordingPlayer()

    async def down() -> None:
        player.removed = True

    async def up() -> None:
        player.removed = False

    notifier = SoundNotifier(player, sounds=SHORT, **controls.arguments())
    yield NotifierCase(
        notifier,
        player.played,
        lambda message: SHORT.get(message.level),
        down,
        up,
        no_wait,
        delivers_after_outage=False,
    )


NOTIFIERS: dict[str, Maker] = {
    "memory": _memory,
    "zeromq": _zeromq,
    "webhook": _webhook,
    "udp line": _udp_line,
    "sound": _sound,
}

import_third_party()
