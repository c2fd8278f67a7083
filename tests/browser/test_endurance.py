"""Tests of twenty clients for a long flight: slow ones delay no other, and memory does not grow.

No browser is used: a client is a connection that reads the stream, or does not.
"""

from __future__ import annotations

import asyncio
import gc
import signal
import socket
from pathlib import Path

import pytest

import bridge.page.app
from bridge.page.app import PageApp
from bridge.page.auth import new_key
from bridge.page.serve import page_server
from bridge.page.views.registry import PANELS
from bridge.runtime.registry import DeviceRegistry
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import FrameSender
from tests.bridge.page.page_builders import FlownDevice, page_pack
from tests.browser.memory import resident_kb
from tests.browser.stream_clients import StreamClient, stalled_clients
from tests.browser.watch_process import WatchProcess
from tests.contract.waiting import wait_until

READERS, STALLED = 14, 6
MINUTES = 10
FRAMES_A_SECOND = 5
FRAMES = MINUTES * 60 * FRAMES_A_SECOND
WARM_UP_FRAMES = FRAMES // 4
BURST = 60
"""Number of frames sent at once; fewer than a link queues before it drops frames."""
LAST = "0:09:59"
GROWTH_KB = 6_000
"""Allowed growth from a quarter of the flight to its end; a leak of one panel for each client and second would be more
than ten times as much."""


def values_at(number: int) -> dict[str, Value]:
    """Return the values of a frame: the beacon switches, fuel is burnt."""
    return {"lights.beacon": "on" if number // 40 % 2 else "off", "fuel.total": 8000.0 - number / 10}


@pytest.fixture(scope="module")
def paged(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The pack of the page's tests."""
    return page_pack(tmp_path_factory.mktemp("packs") / "paged")


async def test_twenty_clients_each_second_of_ten_minutes(
    paged: Pack, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each reader gets the panels of every second and ends with the last ones; memory stays flat."""
    monkeypatch.setattr(
        bridge.page.app, "SEND_TIMEOUT_S", 600.0
    )  # on a busy machine the loop takes longer than 20 s
    flown = FlownDevice(paged)
    page = PageApp(DeviceRegistry([flown.device]), new_key())
    cache = page.panel_caches["device"]
    clients = [StreamClient() for _ in range(READERS)]
    async with page_server(page, "127.0.0.1", 0) as address:
        reading = [asyncio.create_task(one.read(address)) for one in clients]
        async with stalled_clients(address, STALLED) as slow:
            await wait_until(lambda: cache.client_count == READERS + STALLED)
            warm_kb = 0
            for number in range(FRAMES):
                flown.clock.now_s += 1 / FRAMES_A_SECOND
                flown.frame(number / FRAMES_A_SECOND, values_at(number))
                flown.device.runner.tick()
                if number % FRAMES_A_SECOND == 0:
                    cache.refresh()
                    for _ in range(20):
                        await asyncio.sleep(0)
                if number == WARM_UP_FRAMES:
                    warm_kb = _collected_kb()
            ended_kb = _collected_kb()
            await wait_until(
                lambda: all(one.panels == {n: cache.panel(n)[0] for n in PANELS} for one in clients), 60
            )
            for one in slow:
                assert await one.read_until(LAST)  # texts that it missed are not sent later
                assert one.client.panel_count <= clients[0].panel_count
    await asyncio.gather(*reading)
    assert all(client.ended for client in clients)
    assert min(client.panel_count for client in clients) > MINUTES * 60
    assert ended_kb - warm_kb < GROWTH_KB, f"{warm_kb} kB after a quarter, {ended_kb} kB at the end"


async def test_a_watch_with_twenty_clients_does_not_grow(tmp_path: Path) -> None:
    """Ten minutes at full speed: all clients have the end, and the process has not grown since a quarter."""
    watch = await asyncio.to_thread(WatchProcess, tmp_path)
    clients = [StreamClient() for _ in range(READERS)]
    reading = [asyncio.create_task(one.read(watch.address)) for one in clients]
    try:
        async with stalled_clients(watch.address, STALLED):
            grown = await _flown_past(watch, clients)
            await wait_until(lambda: all(LAST in one.panels["head"] for one in clients), 60)
            assert {one.panels["head"] for one in clients} == {clients[0].panels["head"]}
    finally:
        watch.end(signal.SIGKILL)
        await asyncio.gather(*reading, return_exceptions=True)
    assert grown[-1] - grown[0] < GROWTH_KB, grown


async def test_a_stalled_client_is_disconnected(paged: Pack, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page closes a connection that accepts no data for a while; other clients are not affected."""
    monkeypatch.setattr(bridge.page.app, "SEND_TIMEOUT_S", 0.05)
    flown = FlownDevice(paged)
    page = PageApp(DeviceRegistry([flown.device]), new_key())
    cache, client, number = page.panel_caches["device"], StreamClient(), 0
    async with page_server(page, "127.0.0.1", 0) as address:
        reading = asyncio.create_task(client.read(address))
        async with stalled_clients(address, 1) as (slow,):
            await wait_until(lambda: cache.client_count == 2)
            async with asyncio.timeout(60):
                while cache.client_count == 2:
                    number += 1
                    flown.frame(number / FRAMES_A_SECOND, values_at(number))
                    cache.refresh()
                    await asyncio.sleep(0)
            await slow.cut_off()
        assert cache.client_count == 1
    await reading
    assert client.ended


async def _flown_past(watch: WatchProcess, clients: list[StreamClient]) -> list[int]:
    """Send the flight in bursts, each after the first client shows the last one; return the size after each quarter."""
    sender, sizes = FrameSender(), list[int]()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        out.connect(("127.0.0.1", watch.link_port))
        for number in range(FRAMES):
            out.send(sender.datagram(number / FRAMES_A_SECOND, values_at(number)))
            if number % BURST == BURST - 1:
                seconds = number // FRAMES_A_SECOND
                shown = f"0:{seconds // 60:02}:{seconds % 60:02}"
                await wait_until(lambda: shown in clients[0].panels.get("head", ""), 60)  # noqa: B023 - awaited at once
            if number % WARM_UP_FRAMES == WARM_UP_FRAMES - 1:
                sizes.append(resident_kb(watch.pid))
    return sizes


def _collected_kb() -> int:
    gc.collect()
    return resident_kb()
