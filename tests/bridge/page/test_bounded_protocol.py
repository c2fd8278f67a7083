"""Tests of bridge.page.bounded_protocol, on real sockets: who does not end a request, and who opens too many connections."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from urllib.parse import urlsplit

import httpx
import pytest

from bridge.page.app import PageApp
from bridge.page.auth import AccessKey
from bridge.page.serve import page_server
from bridge.runtime.registry import DeviceRegistry
from tests.bridge.page.page_builders import FlownDevice

WITHIN_S = 20.0
KEY = "a-key-for-tests"


@pytest.fixture
async def address(flown: FlownDevice) -> AsyncIterator[str]:
    """A page that is served."""
    async with page_server(PageApp(DeviceRegistry([flown.device]), AccessKey(KEY)), "127.0.0.1", 0) as served:
        yield served


async def connect(address: str, data: bytes = b"") -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    """Open a connection and send some bytes."""
    parts = urlsplit(address)
    reader, writer = await asyncio.open_connection(parts.hostname, parts.port)
    writer.write(data)
    return reader, writer


async def rest(reader: asyncio.StreamReader) -> bytes:
    """Read until the other side closes."""
    try:
        return await asyncio.wait_for(reader.read(), WITHIN_S)
    except ConnectionResetError:
        return b""


GET = b"GET /device/link HTTP/1.1\r\nHost: 127.0.0.1\r\n"


@pytest.mark.parametrize("data", [b"", b"G", GET])
async def test_a_request_that_is_never_whole_is_closed(
    address: str, data: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing, or the beginning of a request, holds no connection."""
    monkeypatch.setattr("bridge.page.bounded_protocol.REQUEST_TIMEOUT_S", 0.05)
    reader, writer = await connect(address, data)
    assert await rest(reader) == b""
    writer.close()


async def test_the_second_request_of_a_connection_has_the_same_time(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a whole request, half of another one holds no connection either."""
    monkeypatch.setattr("bridge.page.bounded_protocol.REQUEST_TIMEOUT_S", 0.2)
    reader, writer = await connect(address, GET + b"\r\n")
    assert b"200 OK" in await asyncio.wait_for(reader.readuntil(b"\r\n"), WITHIN_S)
    writer.write(GET)
    assert b"</html>" in await rest(reader)
    writer.close()


async def test_a_body_that_never_comes_is_answered(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A request whose body is missing gets an answer and no more time."""
    monkeypatch.setattr("bridge.page.request_body.BODY_TIMEOUT_S", 0.05)
    head = f"POST /device/do HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer {KEY}\r\nContent-Length: 9\r\n\r\n"
    reader, writer = await connect(address, head.encode())
    assert b"408" in await asyncio.wait_for(reader.readuntil(b"\r\n"), WITHIN_S)
    writer.close()


@pytest.mark.parametrize("limit", ["MAX_CONNECTIONS", "MAX_PER_PEER"])
async def test_only_so_many_connections(address: str, limit: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A further connection is closed at once; when others have left, the page answers again."""
    monkeypatch.setattr(f"bridge.page.bounded_protocol.{limit}", 3)
    held = [await connect(address, b"G") for _ in range(3)]
    reader, writer = await connect(address, GET + b"\r\n")
    assert await rest(reader) == b""
    writer.close()
    for _, one in held:
        one.close()
        await one.wait_closed()
    async with httpx.AsyncClient() as client, asyncio.timeout(WITHIN_S):
        while True:
            try:
                answer = await client.get(f"{address}device/link")
                break
            except httpx.TransportError:
                await asyncio.sleep(0)
    assert answer.status_code == 200
