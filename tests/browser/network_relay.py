"""Relays connections between a browser and the watch, and can go dead silently, as a wireless network does.

Takes: the port of a page.  Gives: `NetworkRelay`, with a port of its own.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager, suppress
from typing import cast


class NetworkRelay:
    """A relay that can go dead: its connections then carry no bytes, do not end, and stay dead."""

    def __init__(self, port: int) -> None:
        """Prepare a relay to a port, without listening."""
        self._to = port
        self._alive = asyncio.Event()
        self._over = asyncio.Event()
        self._started: Future[tuple[asyncio.AbstractEventLoop, int]] = Future()
        self._carrying: set[asyncio.Task[None]] = set()
        self._meeting: list[asyncio.Task[None]] = []
        self._writers: list[asyncio.StreamWriter] = []
        self._thread = threading.Thread(target=asyncio.run, args=(self._run(),))

    def start(self) -> int:
        """Listen, and return the port."""
        self._thread.start()
        self._loop, port = self._started.result(10)
        return port

    def go_dead(self) -> None:
        """Carry no bytes from now on."""
        self._loop.call_soon_threadsafe(self._dead)

    def restore(self) -> None:
        """Carry new connections again; the old ones stay dead."""
        self._loop.call_soon_threadsafe(self._alive.set)

    def end(self) -> None:
        """Close everything."""
        self._loop.call_soon_threadsafe(self._over.set)
        self._thread.join()

    def _dead(self) -> None:
        self._alive.clear()
        for task in self._carrying:
            task.cancel()

    async def _run(self) -> None:
        self._alive.set()
        server = await asyncio.start_server(self._meet, "127.0.0.1", 0)
        self._started.set_result((asyncio.get_running_loop(), server.sockets[0].getsockname()[1]))
        await self._over.wait()
        server.close()
        self._dead()
        for writer in self._writers:
            writer.transport.abort()
        while not all(task.done() for task in self._meeting):  # noqa: ASYNC110 - they end by themselves now
            await asyncio.sleep(0)

    async def _meet(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Relay one connection; if it was opened or used while the network was dead, it is aborted later."""
        self._meeting.append(cast("asyncio.Task[None]", asyncio.current_task()))
        self._writers.append(writer)
        if not await self._back():
            return
        there_reader, there_writer = await asyncio.open_connection("127.0.0.1", self._to)
        self._writers.append(there_writer)
        ways = [(reader, there_writer), (there_reader, writer)]
        tasks = [asyncio.create_task(_carry(*way)) for way in ways]
        self._carrying.update(tasks)
        await asyncio.gather(*tasks, return_exceptions=True)
        with suppress(ConnectionError):
            await reader.read(1)  # a peer that only listens never learns that the connection is dead
        if await self._back():
            writer.transport.abort()

    async def _back(self) -> bool:
        """Wait until the network is back; return False if the relay ends before."""
        waits = {asyncio.create_task(self._alive.wait()), asyncio.create_task(self._over.wait())}
        _, others = await asyncio.wait(waits, return_when=asyncio.FIRST_COMPLETED)
        for other in others:
            other.cancel()
        return not self._over.is_set()


async def _carry(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    with suppress(ConnectionError):
        while data := await reader.read(65_536):
            writer.write(data)
            await writer.drain()
        writer.close()


@contextmanager
def network_relay(port: int) -> Iterator[tuple[NetworkRelay, str]]:
    """Run a relay to a page; yield it with the page's address through it."""
    relay = NetworkRelay(port)
    try:
        yield relay, f"http://127.0.0.1:{relay.start()}/"
    finally:
        relay.end()
