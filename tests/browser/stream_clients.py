"""Clients of a page's stream without a browser: some read, some do not.

Takes: an address.  Gives: `StreamClient` and `StalledClient`.
"""

from __future__ import annotations

import asyncio
import json
import socket
from collections.abc import AsyncIterator, Iterable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

import httpx

from bridge.page.views.registry import PANELS

NEVER = httpx.Timeout(None)
SMALL = 4096


def stream_path(device: str, panels: Iterable[str] = PANELS) -> str:
    """Give the path of the stream of a device's panels."""
    return f"{device}/stream?panels={','.join(panels)}"


@dataclass
class StreamClient:
    """A client that reads: the newest text of each panel, counts of panels and characters, and the end."""

    panels: dict[str, str] = field(default_factory=dict)
    panel_count: int = 0
    characters: int = 0
    ended: bool = False
    _kind: str = ""

    async def read(self, address: str, device: str = "device", panels: Iterable[str] = PANELS) -> None:
        """Read the stream of a device, of all panels if none are named, until it ends."""
        async with (
            httpx.AsyncClient(timeout=NEVER) as http,
            http.stream("GET", address + stream_path(device, panels)) as answer,
        ):
            async for line in answer.aiter_lines():
                self.feed_line(line)

    def feed_line(self, line: str) -> None:
        """Parse one line of the stream."""
        self.characters += len(line)
        if line.startswith("event: "):
            self._kind = line.removeprefix("event: ")
            self.ended |= self._kind == "bye"
        elif line.startswith("data: ") and self._kind == "panel":
            panel = json.loads(line.removeprefix("data: "))
            self.panels[panel["name"]] = panel["text"]
            self.panel_count += 1


class StalledClient:
    """A client that subscribes to all panels and does not read until a test says so."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Take over a connection whose request was sent."""
        self.client = StreamClient()
        self._reader, self._writer = reader, writer

    async def read_until(self, words: str) -> bool:
        """Read until the head contains these words; return False if the connection ends before."""
        self._writer.transport.resume_reading()  # type: ignore[attr-defined]  # a socket's transport can
        while words not in self.client.panels.get("head", ""):
            line = await self._reader.readline()
            if not line:
                return False
            self.client.feed_line(line.decode().rstrip("\r\n"))
        return True

    async def cut_off(self) -> None:
        """Read what is left until the page ends the connection."""
        self._writer.transport.resume_reading()  # type: ignore[attr-defined]  # a socket's transport can
        while await self._reader.read(65_536):
            pass


@asynccontextmanager
async def stalled_clients(
    address: str, count: int, device: str = "device"
) -> AsyncIterator[Sequence[StalledClient]]:
    """Connect this number of clients that do not read while the block runs."""
    host, _, port = address.removeprefix("http://").rstrip("/").partition(":")
    opened = []
    for _ in range(count):
        sock = socket.socket()
        sock.setsockopt(
            socket.SOL_SOCKET, socket.SO_RCVBUF, SMALL
        )  # a small buffer, so that the system does not read for the client
        sock.setblocking(False)
        await asyncio.get_running_loop().sock_connect(sock, (host, int(port)))
        reader, writer = await asyncio.open_connection(sock=sock, limit=1 << 22)
        writer.write(f"GET /{stream_path(device)} HTTP/1.1\r\nHost: {host}:{port}\r\n\r\n".encode())
        writer.transport.pause_reading()  # type: ignore[attr-defined]  # a socket's transport can
        opened.append((reader, writer))
    try:
        yield [StalledClient(*pair) for pair in opened]
    finally:
        for _, writer in opened:
            writer.transport.abort()
