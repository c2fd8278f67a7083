"""TCP links: the client connects to the sender, the server lets the sender connect.

The client connects again when the connection ends.  Its wait doubles from half a second to thirty seconds, and its
status shows when the next try is.  The server serves one sender at a time: a new connection is refused while the old one
sends, so that a stranger cannot take its place, and replaces a silent one, so that a dead connection which nobody closed
cannot lock out the next sender.  An unfinished message at the end of a
connection is counted and discarded.

Takes: an address, and the framing of messages.  Gives: a `Link`.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Awaitable, Callable, Collection

from adapters.back_off import BackOff
from adapters.links.addresses import allowed_peers, open_error
from adapters.links.base import Clock, Link, LinkLimits, LinkStatus
from adapters.links.framing import Framing, FramingError, StreamSplitter

INITIAL_RETRY_S = 0.5
"""Seconds before the first new try to connect; each further wait is twice as long."""
_READ_BYTES = 1 << 16


class _StreamLink(Link):
    """Base class of both ends: reads one connection."""

    def __init__(self, name: str, framing: Framing, clock: Clock, limits: LinkLimits | None) -> None:
        super().__init__(name, clock=clock, limits=limits)
        self._framing = framing

    async def _read(self, reader: asyncio.StreamReader, peer: str) -> None:
        """Read messages until the connection ends or fails."""
        splitter = StreamSplitter(self._framing, self.limits.max_bytes)
        self.counts.connections += 1
        try:
            while piece := await reader.read(_READ_BYTES):
                for message in splitter.feed(piece):
                    self._enqueue(message, peer)
                if splitter.failure:
                    raise FramingError(splitter.failure)  # noqa: TRY301 - as one of a later piece
            self.last_error = "the sender closed the connection"
        except FramingError as error:
            self.last_error = str(error)
        except OSError as error:
            self.counts.errors += 1
            self.last_error = f"the connection broke: {error.strerror or error}"
        finally:
            self.counts.unfinished += splitter.unfinished > 0
            self.counts.oversized += splitter.oversized


class TcpClientLink(_StreamLink):
    """TCP client: connects to a sender, and connects again when the connection ends."""

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
        """Prepare the link; it connects when it is opened.

        Args:
            host: The sender's name or address.
            port: The sender's port.
            framing: The framing of messages in the stream.
            clock: The monotonic clock in seconds.
            sleep: Waits that many seconds; tests pass their own.
            limits: The limits of the queue.
        """
        super().__init__(f"tcp {host}:{port}", framing, clock, limits)
        self.host, self.port = host, port
        self._sleep = sleep
        self._task: asyncio.Task[None] | None = None

    async def _open(self) -> None:
        """Start to connect in the background; an absent sender is not an error."""
        self._task = asyncio.get_running_loop().create_task(self._reconnect_forever())

    async def _close(self) -> None:
        """Stop connecting and close the connection."""
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
            self._task = None

    async def _reconnect_forever(self) -> None:
        """Connect, read and wait in a loop until cancelled."""
        back_off = BackOff(INITIAL_RETRY_S)
        while True:
            before = self.counts.received
            await self._connect_once()
            if self.counts.received > before:
                back_off.reset()
            wait_s = back_off.next_s()
            self.retry_at_s = self.clock() + wait_s
            self._set_status(LinkStatus.RETRYING)
            await self._sleep(wait_s)

    async def _connect_once(self) -> None:
        """Make one connection and read it to its end."""
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
    """TCP server: waits for a sender to connect; a new connection replaces one that is silent."""

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
        """Prepare the link; it listens when it is opened.

        Args:
            host: The IPv4 address to listen on.
            port: The port; 0 chooses a free one (read `port` after opening).
            framing: The framing of messages in the stream.
            peers: IPv4 addresses that may connect; required for everything but loopback.
            clock: The monotonic clock in seconds.
            limits: The limits of the queue.

        Raises:
            LinkError: The host is not an IPv4 address, or it is not loopback and no peer is named.
        """
        super().__init__(f"tcp-listen {host}:{port}", framing, clock, limits)
        self.host, self.port = host, port
        self._allowed_peers = allowed_peers(self.name, host, peers)
        self._server: asyncio.Server | None = None
        self._current: asyncio.StreamWriter | None = None
        self._reader_tasks: set[asyncio.Task[None]] = set()

    async def _open(self) -> None:
        """Listen for connections."""
        try:
            # Address reuse (asyncio's default here) only skips the system's wait after a close; a second listener still fails.
            self._server = await asyncio.start_server(self._on_connection, self.host, self.port)
        except OSError as error:
            raise open_error(self.name, error) from error
        self.port = self._server.sockets[0].getsockname()[1]
        self.name = f"tcp-listen {self.host}:{self.port}"

    async def _close(self) -> None:
        """Stop listening and close the connection."""
        if self._server is not None:
            self._server.close()
            self._server = None
        for task in list(self._reader_tasks):
            task.cancel()
        await asyncio.gather(*self._reader_tasks, return_exceptions=True)
        self._close_current()

    def _on_connection(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Accept one connection, or refuse a peer that is not allowed."""
        host, port = writer.get_extra_info("peername")[:2]
        if self._allowed_peers and host not in self._allowed_peers:
            self.counts.refused += 1
            writer.close()
            return
        if self._current is not None and self.status(self.clock()) is LinkStatus.RECEIVING:
            self.counts.refused += 1  # a sender that sends is not replaced by a stranger
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
        """Read one connection to its end."""
        try:
            await self._read(reader, peer)
        finally:
            writer.close()
            if self._current is writer:
                self._current = None
                self._set_status(LinkStatus.RETRYING)

    def _close_current(self) -> None:
        """Close the connection that was current until now."""
        if self._current is not None:
            self._current.close()
            self._current = None
