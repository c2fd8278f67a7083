"""Tests of bridge.runtime.control: the control port of a running watch, on real sockets."""

from __future__ import annotations

import asyncio
import socket

import msgspec
import pytest

from bridge.runtime.control import HOST, MAX_REQUEST_BYTES, open_control_port, send_request
from bridge.session.requests import Reply, Request
from rules.faults import LinkError

WITHIN_S = 10.0


def echo(request: Request) -> Reply:
    """Return the request as the text of a reply."""
    return Reply(
        accepted=request.verb == "call", text=f"{request.verb} {request.name} {request.by} {request.reason}"
    )


async def raw_reply(port: int, data: bytes) -> bytes:
    """Send some bytes to the control port and return its reply; empty if it closes the connection."""
    reader, writer = await asyncio.open_connection(HOST, port)
    try:
        writer.write(data)
        writer.write_eof()
        return await asyncio.wait_for(reader.read(), WITHIN_S)
    except ConnectionResetError:
        return b""
    finally:
        writer.close()


async def test_a_request_and_its_reply_arrive_complete() -> None:
    """Every field of the request arrives, and the reply comes back complete."""
    async with open_control_port(echo, 0) as port:
        assert await send_request(Request("call", "push_approved", "ground"), port) == Reply(
            accepted=True, text="call push_approved ground "
        )
        assert await send_request(Request("waive", "flow.a.b", "instructor", "inop"), port) == Reply(
            accepted=False, text="waive flow.a.b instructor inop"
        )


@pytest.mark.parametrize(
    "data",
    [
        b"\xff\xfe\n",
        b"hello\n",
        b"{}\n",
        b'{"verb": "fire", "name": "x"}\n',
        b'{"verb": "call", "name": 3}\n',
        b'{"verb": "call", "name": "x", "rank": 1}\n',
        b"[" * 3000 + b"\n",
        b"",
    ],
)
async def test_garbage_is_answered_and_the_port_stays_open(data: bytes) -> None:
    """Bytes that are no request get an error message, and the next request is served."""
    async with open_control_port(echo, 0) as port:
        reply = msgspec.json.decode(await raw_reply(port, data), type=Reply)
        assert not reply.accepted
        assert reply.text.startswith("not understood")
        assert (await send_request(Request("call", "a"), port)).accepted


async def test_a_too_long_line_gets_no_answer() -> None:
    """A line above the size limit gets no answer and takes no memory, and the next request is served."""
    async with open_control_port(echo, 0) as port:
        assert await raw_reply(port, b"x" * (MAX_REQUEST_BYTES * 4)) == b""
        assert (await send_request(Request("call", "a"), port)).accepted


async def test_a_port_in_use_is_a_clear_error() -> None:
    """A second control port on the same number raises an error that names the port and the option to choose another."""
    async with open_control_port(echo, 0) as port:
        with pytest.raises(LinkError, match=rf"port {port} on {HOST} is in use.*--control-port"):
            async with open_control_port(echo, port):
                pytest.fail("the port was given twice")


async def test_a_port_without_a_watch_is_a_clear_error() -> None:
    """A request to a port without a watch fails and names the command that starts one."""
    with socket.socket() as free:
        free.bind((HOST, 0))
        port = free.getsockname()[1]
        with pytest.raises(LinkError, match=r"no watch is running.*holdshort watch"):
            await send_request(Request("call", "a"), port)


async def test_another_program_at_the_port_is_recognised() -> None:
    """A program that answers in another form is reported as no watch."""

    async def other(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.readline()
        writer.write(b"220 ready\r\n")
        writer.close()

    async with await asyncio.start_server(other, HOST, 0) as server:
        with pytest.raises(LinkError, match="did not answer as a watch does"):
            await send_request(Request("call", "a"), server.sockets[0].getsockname()[1])


async def test_only_so_many_clients_at_one_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Further clients are closed at once; when one has left, the next gets its reply."""
    monkeypatch.setattr("bridge.runtime.control.MAX_CONNECTIONS", 2)
    async with open_control_port(echo, 0) as port:
        silent = [await asyncio.open_connection(HOST, port) for _ in range(2)]
        await asyncio.sleep(0)
        assert await raw_reply(port, b'{"verb": "call", "name": "x"}\n') == b""
        for _, writer in silent:
            writer.close()
            await writer.wait_closed()
        await wait_until_accepted(port)


async def wait_until_accepted(port: int) -> None:
    """Ask until a request is accepted."""
    async with asyncio.timeout(WITHIN_S):
        while b"true" not in await raw_reply(port, b'{"verb": "call", "name": "x"}\n'):
            pass
