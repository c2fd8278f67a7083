"""Tests of bridge.page.serve: addresses, a real port, and a prompt shutdown."""

from __future__ import annotations

import asyncio
import socket

import httpx
import pytest
from starlette.types import Receive, Scope, Send
from structlog.testing import capture_logs

from bridge.page import serve
from bridge.page.app import PageApp
from bridge.page.auth import AccessKey
from bridge.page.serve import page_server, parse_address, qr_code
from bridge.runtime.registry import DeviceRegistry
from rules.faults import InputFaults, LinkError
from tests.bridge.page.page_builders import FlownDevice

WITHIN_S = 20.0


def page_of(flown: FlownDevice) -> PageApp:
    """Build the page of one device."""
    return PageApp(DeviceRegistry([flown.device]), AccessKey("a-key-for-tests"))


@pytest.mark.parametrize(
    ("text", "host", "port"),
    [
        ("127.0.0.1:47811", "127.0.0.1", 47811),
        ("[::1]:80", "::1", 80),
        ("localhost:0", "localhost", 0),
        ("192.0.2.1:65535", "192.0.2.1", 65535),
    ],
)
def test_an_address_is_a_host_and_a_port(text: str, host: str, port: int) -> None:
    """IPv4, IPv6 in brackets and names are split at the last colon."""
    assert parse_address(text) == (host, port)


@pytest.mark.parametrize(
    "text", ["", "47811", ":47811", "127.0.0.1", "127.0.0.1:", "h:65536", "h:-1", "h:8o"]
)
def test_an_invalid_address_is_refused_with_an_example(text: str) -> None:
    """The fault names the option and the expected form."""
    with pytest.raises(InputFaults, match=r"--page.*expected HOST:PORT"):
        parse_address(text)


async def test_the_page_is_served_while_the_block_runs(flown: FlownDevice) -> None:
    """The page answers on a free port, and the port is free again afterwards."""
    async with page_server(page_of(flown), "127.0.0.1", 0) as address, httpx.AsyncClient() as one:
        answer = await one.get(f"{address}device/link", timeout=WITHIN_S)
        assert answer.status_code == 200
    async with httpx.AsyncClient() as one:
        with pytest.raises(httpx.ConnectError):
            await one.get(address, timeout=WITHIN_S)


async def test_a_port_in_use_is_reported_with_a_remedy(flown: FlownDevice) -> None:
    """A port of another program raises a LinkError that names the option."""
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(LinkError, match=rf"port {port} on 127\.0\.0\.1 .*--page"):
            async with page_server(page_of(flown), "127.0.0.1", port):
                pass


async def test_an_open_stream_gets_bye_at_the_end(flown: FlownDevice) -> None:
    """A stream that is open when the page ends gets `bye`; the page does not wait for the client."""
    events: list[str] = []
    stream_open = asyncio.Event()

    async def listen(address: str) -> None:
        async with (
            httpx.AsyncClient() as one,
            one.stream("GET", f"{address}device/stream?panels=head", timeout=WITHIN_S) as answer,
        ):
            async for line in answer.aiter_lines():
                if line.startswith("event: "):
                    events.append(line.removeprefix("event: "))
                    stream_open.set()

    async with asyncio.timeout(WITHIN_S):
        async with page_server(page_of(flown), "127.0.0.1", 0) as address:
            listening = asyncio.create_task(listen(address))
            await stream_open.wait()
        await listening
    assert (events[0], events[-1]) == ("hello", "bye")


async def test_a_client_that_does_not_read_leaves_no_task(
    flown: FlownDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer to a client that stopped reading ends with the page, and is not cancelled with an error later."""

    async def send_much(_: Scope, __: Receive, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": []})
        for _number in range(40):
            await send({"type": "http.response.body", "body": bytes(1 << 20), "more_body": True})

    page, before = page_of(flown), asyncio.all_tasks()
    monkeypatch.setattr(page, "asgi", send_much)
    monkeypatch.setattr(serve, "SHUTDOWN_TIMEOUT_S", 0.1)
    async with asyncio.timeout(WITHIN_S):
        async with page_server(page, "127.0.0.1", 0) as address:
            host, _, port = address.removeprefix("http://").rstrip("/").partition(":")
            reader, writer = await asyncio.open_connection(host, int(port), limit=1)
            writer.write(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            await reader.readexactly(1)
    assert asyncio.all_tasks() - before == set()
    writer.transport.abort()


async def test_an_error_of_one_answer_is_logged_and_not_printed(
    flown: FlownDevice, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A traceback of one client would disturb the live view; the log has the error."""

    async def fail(_: Scope, __: Receive, ___: Send) -> None:
        raise ValueError("a client that does not read")

    page = page_of(flown)
    monkeypatch.setattr(page, "asgi", fail)
    with capture_logs() as logged:
        async with page_server(page, "127.0.0.1", 0) as address, httpx.AsyncClient() as one:
            answer = await one.get(address, timeout=WITHIN_S)
    assert answer.status_code == 500
    assert [entry["why"] for entry in logged] == ["ValueError('a client that does not read')"]
    assert capsys.readouterr() == ("", "")


def test_the_qr_code_fits_a_terminal() -> None:
    """The code consists of half blocks and fits a terminal of 80 columns."""
    code = qr_code("http://192.0.2.17:47811/#key=abcdefghijkl")
    lines = code.splitlines()
    assert len(lines) > 10
    assert max(map(len, lines)) < 80
    assert "▀" in code
