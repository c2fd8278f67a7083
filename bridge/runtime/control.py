"""The control port: a local TCP port for requests to a running `watch`.

One request and one reply, each a line of JSON, on the loopback address only.

Takes: requests (a call, a confirmation, a waiver, and so on).  Gives: replies.
"""

from __future__ import annotations

import asyncio
import errno
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

import msgspec

from bridge.session.requests import Reply, Request
from rules.faults import LinkError

HOST = "127.0.0.1"
DEFAULT_PORT = 47810
MAX_REQUEST_BYTES = 65_536
"""Limit of a request with its line end; the longest one carries a trip sheet."""
REPLY_TIMEOUT_S = 5.0
MAX_CONNECTIONS = 64
"""Clients at one time; each has `REPLY_TIMEOUT_S` for its request."""


@asynccontextmanager
async def open_control_port(
    handle: Callable[[Request], Reply], port: int = DEFAULT_PORT
) -> AsyncIterator[int]:
    """Listen for requests while the block runs.

    Args:
        handle: called for each request, in the event loop.
        port: TCP port on the loopback address, 0 for any free one.

    Yields:
        The port in use.

    Raises:
        LinkError: the port is in use, or may not be used.
    """
    open_count = 0

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        nonlocal open_count
        if open_count >= MAX_CONNECTIONS:
            writer.transport.abort()
            return
        open_count += 1
        try:
            line = await asyncio.wait_for(reader.readline(), REPLY_TIMEOUT_S)
            writer.write(msgspec.json.encode(_handle_line(handle, line)) + b"\n")
            await writer.drain()
        except (OSError, TimeoutError, ValueError):
            pass  # the client left or sent an endless line; it gets no reply
        finally:
            open_count -= 1
            writer.close()

    try:
        server = await asyncio.start_server(serve, HOST, port, limit=MAX_REQUEST_BYTES)
    except OSError as error:
        raise _port_error(port, error) from error
    async with server:
        yield server.sockets[0].getsockname()[1]


def _port_error(port: int, error: OSError) -> LinkError:
    if error.errno != errno.EADDRINUSE:
        return LinkError(
            f"the control port {HOST}:{port} cannot be opened: {error.strerror}; choose another with --control-port"
        )
    return LinkError(
        f"port {port} on {HOST} is in use by another program; is a watch already running? "
        "Choose another with --control-port"
    )


def _handle_line(handle: Callable[[Request], Reply], line: bytes) -> Reply:
    try:
        request = msgspec.json.decode(line, type=Request)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        return Reply(accepted=False, text=f"not understood: {error}")
    return handle(request)


async def send_request(request: Request, port: int = DEFAULT_PORT) -> Reply:
    """Send one request to a running watch and wait for its reply.

    Raises:
        LinkError: no watch listens there, no reply came, or the request is too long.
    """
    asked = msgspec.json.encode(request) + b"\n"
    if len(asked) > MAX_REQUEST_BYTES:
        raise LinkError(f"the request has {len(asked)} bytes, expected at most {MAX_REQUEST_BYTES}")
    try:
        reader, writer = await asyncio.open_connection(HOST, port)
    except OSError as error:
        raise LinkError(
            f"no watch is running with its control port at {HOST}:{port}; start one with: holdshort watch"
        ) from error
    try:
        writer.write(asked)
        await writer.drain()
        line = await asyncio.wait_for(reader.readline(), REPLY_TIMEOUT_S)
        return msgspec.json.decode(line, type=Reply)
    except (OSError, TimeoutError, ValueError, msgspec.MsgspecError) as error:
        raise LinkError(f"the program at {HOST}:{port} did not answer as a watch does ({error})") from error
    finally:
        writer.close()
