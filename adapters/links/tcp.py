"""TCP: we connect to the sender, or the sender connects to us.

The client connects again by itself when the connection ends, with a back-off that doubles from half a second to
thirty, and says when it will try next.  The server serves one sender at a time: a new connection takes the place of
the old one, so that a sender whose end was never heard of does not lock out its successor.  A message that a
connection leaves unfinished is counted and thrown away, never guessed at.

Takes: an address, and how messages are told apart.  Gives: a `Link`.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Awaitable, Callable, Collection

from adapters.links.base import Clock, Link, LinkLimits, LinkStatus
from adapters.links.framing import Framing, FramingError, StreamSplitter
from adapters.links.udp import allowed_peers, open_error

INITIAL_RETRY_S = 0.5
MAX_RETRY_S = 30.0
_READ_BYTES = 1 << 16


class _StreamLink(Link):
    """What both ends share: reading one connection."""

    def __init__(self, name: str, framing: Framing, clock: Clock, limits: LinkLimits | None) -> None:
        """Nothing is opened yet."""
        super().__init__(name, clock=clock, limits=limits)
        self._framing = framing

    async def _read(self, reader: asyncio.StreamReader, peer: str) -> None:
        """Take messages until the connection ends, in whatever way."""
        splitter = StreamSplitter(self._framing, self.limits.max_bytes)
        self.counts.connections += 1
        try:
            while piece := await reader.read(_READ_BYTES):
                for message in splitter.feed(piece):
                    self._enqueue(message, peer)
            self.last_error = "the sender closed the connection"
        except FramingError as astray:
            self.last_error = str(astray)
        except OSError as error:
            self.counts.errors += 1
            self.last_error = f"the connection broke: {error.strerror or error}"
        finally:
            self.counts.unfinished += splitter.unfinished > 0
            self.counts.oversized += splitter.oversized


class TcpClientLink(_StreamLink):
    """Connects to a sender, and again when the connection ends."""

    def __init__(
        self,
        host: str,
        port: int,
        *,
        framing: Framing = Framing.LINES,
        clock: Clock = time.monotonic,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        limits: LinkLimits | None = None,
    ) -> None:
        """Nothing is opened yet.

        Args:
            host: Where the sender listens; a name or an address.
            port: Its port.
            framing: How messages are told apart.
            clock: The monotonic clock in seconds.
            sleep: Waits so many seconds; tests hand in their own.
            limits: How much the link holds.
        """
        super().__init__(f"tcp {host}:{port}", framing, clock, limits)
        self.host, self.port = host, port
        self._sleep = sleep
        self._task: asyncio.Task[None] | None = None

    async def _open(self) -> None:
        """Begin to connect; that nobody is there yet is no error."""
        self._task = asyncio.get_running_loop().create_task(self._reconnect_forever())

    async def _close(self) -> None:
        """Give up."""
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
            self._task = None

    async def _reconnect_forever(self) -> None:
        """Connect, read, wait, for ever."""
        wait_s = INITIAL_RETRY_S
        while True:
            before = self.counts.received
            await self._connect_once()
            wait_s = INITIAL_RETRY_S if self.counts.received > before else wait_s
            self.retry_at_s = self.clock() + wait_s
            self._set_status(LinkStatus.RETRYING)
            await self._sleep(wait_s)
            wait_s = min(2 * wait_s, MAX_RETRY_S)

    async def _connect_once(self) -> None:
        """One connection, from its beginning to its end."""
        try:
            reader, writer = await asyncio.open_connection(self.host, self.port)
        except OSError as error:
            self.counts.errors += 1
            self.last_error = f"cannot connect: {error.strerror or error}"
            return
        self._opened_s, self.retry_at_s = self.clock(), None
        self._set_status(LinkStatus.WAITING)
        try:
            await self._read(reader, f"{self.host}:{self.port}")
        finally:
            writer.close()
            with contextlib.suppress(OSError):
                await writer.wait_closed()


class TcpServerLink(_StreamLink):
    """Waits for a sender to connect; the newest connection is the one that counts."""

    def __init__(
        self,
        host: str = "127.0.0.1",
        port: int = 0,
        *,
        framing: Framing = Framing.LINES,
        peers: Collection[str] = (),
        clock: Clock = time.monotonic,
        limits: LinkLimits | None = None,
    ) -> None:
        """Nothing is opened yet.

        Args:
            host: The IPv4 address to listen on.
            port: The port; 0: one that is free (then see `port` after opening).
            framing: How messages are told apart.
            peers: IPv4 addresses that may connect. Needed for everything but loopback.
            clock: The monotonic clock in seconds.
            limits: How much the link holds.

        Raises:
            LinkError: The address is none, or is not loopback and nobody is allowed to connect.
        """
        super().__init__(f"tcp-listen {host}:{port}", framing, clock, limits)
        self.host, self.port = host, port
        self._allowed_peers = allowed_peers(self.name, host, peers)
        self._server: asyncio.Server | None = None
        self._current: asyncio.StreamWriter | None = None
        self._reader_tasks: set[asyncio.Task[None]] = set()

    async def _open(self) -> None:
        """Listen."""
        try:
            # Reuse of the address only skips the system's waiting time after a close; it lets no second listener in.
            self._server = await asyncio.start_server(self._on_connection, self.host, self.port)
        except OSError as error:
            raise open_error(self.name, error) from error
        self.port = self._server.sockets[0].getsockname()[1]
        self.name = f"tcp-listen {self.host}:{self.port}"

    async def _close(self) -> None:
        """Stop listening, and end the connection."""
        if self._server is not None:
            self._server.close()
            self._server = None
        for task in list(self._reader_tasks):
            task.cancel()
        await asyncio.gather(*self._reader_tasks, return_exceptions=True)
        self._close_current()

    def _on_connection(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Somebody connected."""
        host, port = writer.get_extra_info("peername")[:2]
        if self._allowed_peers and host not in self._allowed_peers:
            self.counts.refused += 1
            writer.close()
            return
        self._close_current()
        self._current = writer
        self._opened_s = self.clock()
        self._set_status(LinkStatus.WAITING)
        task = asyncio.get_running_loop().create_task(self._serve(reader, writer, f"{host}:{port}"))
        self._reader_tasks.add(task)
        task.add_done_callback(self._reader_tasks.discard)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, peer: str) -> None:
        """Read one connection."""
        try:
            await self._read(reader, peer)
        finally:
            writer.close()
            if self._current is writer:
                self._current = None
                self._set_status(LinkStatus.RETRYING)

    def _close_current(self) -> None:
        """Close the connection that counted so far."""
        if self._current is not None:
            self._current.close()
            self._current = None
