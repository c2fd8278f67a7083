"""Twenty clients of one flight: the slow ones delay nobody, and the watch does not grow.

No browser: a client here is a connection that reads the stream, or does not.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

import httpx
import pytest

from bridge.floor import Floor
from bridge.page.app import Page
from bridge.page.keys import new_key
from bridge.page.serve import served
from bridge.page.views import PANELS
from rules.packs.model import Pack
from tests.bridge.page.making import Flown, page_pack
from tests.browser.memory import resident_kb

READING, SLOW = 14, 6
MINUTES = 10
FRAMES_A_SECOND = 5
FRAMES = MINUTES * 60 * FRAMES_A_SECOND
SETTLED = FRAMES // 4
GROWTH_KB = 6_000
"""What the allocator may keep more at the end than after a quarter of the flight; a leak of one panel a client and a
second would be more than ten times as much."""
ALL = ",".join(PANELS)
NEVER = httpx.Timeout(None)


@pytest.fixture(scope="module")
def paged(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The pack of the page's tests."""
    return page_pack(tmp_path_factory.mktemp("packs") / "paged")


@dataclass
class Client:
    """One that reads: the newest text of each panel, and how many came."""

    panels: dict[str, str] = field(default_factory=dict)
    came: int = 0
    ended: bool = False

    async def read(self, address: str) -> None:
        """Read until the page says good-bye."""
        async with httpx.AsyncClient(timeout=NEVER) as http, http.stream("GET", address) as stream:
            kind = ""
            async for line in stream.aiter_lines():
                if line.startswith("event: "):
                    kind = line.removeprefix("event: ")
                elif line.startswith("data: ") and kind == "panel":
                    said = json.loads(line.removeprefix("data: "))
                    self.panels[said["name"]] = said["text"]
                    self.came += 1
                elif kind == "bye":
                    self.ended = True


@asynccontextmanager
async def not_reading(host: str, port: int, path: str) -> AsyncIterator[None]:
    """A client that asks for everything and then takes nothing."""
    _, writer = await asyncio.open_connection(host, port, limit=1024)
    writer.write(f"GET {path} HTTP/1.1\r\nHost: {host}:{port}\r\n\r\n".encode())
    await writer.drain()
    writer.transport.pause_reading()  # type: ignore[attr-defined]  # a socket's transport can
    try:
        yield
    finally:
        writer.transport.abort()


async def test_twenty_clients_for_ten_minutes_of_flight(paged: Pack) -> None:
    """Each one that reads has the last state at the end; memory is flat from a quarter of the flight on."""
    flown = Flown(paged)
    page = Page(Floor([flown.rig]), new_key())
    board = page.boards["device"]
    clients = [Client() for _ in range(READING)]
    async with served(page, "127.0.0.1", 0) as address:
        host, _, port = address.removeprefix("http://").rstrip("/").partition(":")
        path = f"/device/stream?panels={ALL}"
        reading = [asyncio.create_task(one.read(address + path.lstrip("/"))) for one in clients]
        slow = [not_reading(host, int(port), path) for _ in range(SLOW)]
        for one in slow:
            await one.__aenter__()
        while board.watchers < READING + SLOW:  # noqa: ASYNC110 - the board has no event for this, and needs none
            await asyncio.sleep(0)
        settled_kb = 0
        for number in range(FRAMES):
            beacon = "on" if number // 40 % 2 else "off"
            flown.clock.now_s += 1 / FRAMES_A_SECOND
            flown.frame(
                number / FRAMES_A_SECOND, {"lights.beacon": beacon, "fuel.total": 8000.0 - number / 10}
            )
            flown.rig.run.tick()
            if number % FRAMES_A_SECOND == 0:
                board.refresh()
                for _ in range(20):
                    await asyncio.sleep(0)
            if number == SETTLED:
                settled_kb = resident_kb()
        ended_kb = resident_kb()
        last = {name: board.panel(name)[0] for name in PANELS}
        while any(client.panels != last for client in clients):
            await asyncio.sleep(0)
            last = {name: board.panel(name)[0] for name in PANELS}
        for one in slow:
            await one.__aexit__(None, None, None)
    await asyncio.gather(*reading)
    assert all(client.ended for client in clients)
    assert min(client.came for client in clients) > MINUTES * 60
    assert ended_kb - settled_kb < GROWTH_KB, f"{settled_kb} kB after a quarter, {ended_kb} kB at the end"
