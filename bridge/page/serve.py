"""Serves the page in the watch's own event loop, until the watch ends.

Takes: an address and a page.  Gives: the address in use; the terminal's lines and code with it.
"""

from __future__ import annotations

import asyncio
import errno
import io
import socket
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress

import segno
import uvicorn

from bridge.page.app import PageApp
from rules.faults import Fault, InputFaults, LinkError, Place

DEFAULT_PORT = 47811
DEFAULT_ADDRESS = f"127.0.0.1:{DEFAULT_PORT}"
OFF = "off"
LOOPBACK_HOSTS = frozenset({"127.0.0.1", "localhost", "::1"})
WILDCARD_HOSTS = frozenset({"0.0.0.0", "::"})  # noqa: S104 - recognised, so that a reachable address is shown
SHUTDOWN_TIMEOUT_S = 3.0


def parse_address(text: str) -> tuple[str, int]:
    """Host and port of `HOST:PORT`.

    Raises:
        InputFaults: it is no such thing.
    """
    host, colon, port = text.rpartition(":")
    if not colon or not host or not port.isdecimal() or int(port) > 65535:
        raise InputFaults(
            [
                Fault(
                    Place("--page"), f"{text} is no address", f"HOST:PORT such as {DEFAULT_ADDRESS}, or {OFF}"
                )
            ]
        )
    return host.strip("[]"), int(port)


@asynccontextmanager
async def page_server(page: PageApp, host: str, port: int) -> AsyncIterator[str]:
    """Serve while the block runs.

    Args:
        page: what is served.
        host: the address to listen at; loopback unless somebody asked for another.
        port: the TCP port, 0 for any free one.

    Yields:
        The page's address as a browser takes it.

    Raises:
        LinkError: the port is taken or may not be used.
    """
    bound = _listening_socket(host, port)
    config = uvicorn.Config(
        page.asgi, log_config=None, access_log=False, lifespan="off", ws="none", workers=1
    )
    server = _Server(config)
    serving = asyncio.create_task(server.serve([bound]), name="page")
    making = [asyncio.create_task(board.refresh_periodically()) for board in page.all_caches]
    try:
        yield f"http://{_reachable_host(host)}:{bound.getsockname()[1]}/"
    finally:
        page.shutdown.request()
        server.should_exit = True
        for task in making:
            task.cancel()
        with suppress(TimeoutError):
            await asyncio.wait_for(asyncio.shield(serving), SHUTDOWN_TIMEOUT_S)
        server.force_exit = True
        await asyncio.gather(serving, *making, return_exceptions=True)
        bound.close()


def qr_code(address: str) -> str:
    """The address as a QR code, drawn with half blocks for a terminal."""
    drawn = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(drawn, compact=True, border=2)
    return drawn.getvalue()


class _Server(uvicorn.Server):
    """Leaves the signals to the watch."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Take none."""
        yield


def _listening_socket(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((host, port))
        bound.listen()  # so that nobody else can have the port from here on
    except OSError as error:
        bound.close()
        taken = (
            "is in use by another program; is a watch already running?"
            if error.errno == errno.EADDRINUSE
            else ""
        )
        why = taken or f"cannot be used: {error.strerror}"
        raise LinkError(f"port {port} on {host} {why} Choose another with --page HOST:PORT") from error
    return bound


def _reachable_host(host: str) -> str:
    """An address at which another screen in the same network finds this machine."""
    if host not in WILDCARD_HOSTS:
        return f"[{host}]" if ":" in host else host
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: for documentation; nothing is sent
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()
