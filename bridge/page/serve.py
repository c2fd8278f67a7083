"""Serves the page over HTTP in the event loop of the watch.

Takes: an address and a page.  Gives: the address in use, and its QR code for the terminal.
"""

from __future__ import annotations

import asyncio
import errno
import io
import logging
import socket
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress

import segno
import structlog
import uvicorn

from adapters.addresses import split_host_port
from bridge.page.address import DEFAULT_ADDRESS, OFF
from bridge.page.app import PageApp
from bridge.page.bounded_protocol import BoundedProtocol
from bridge.page.panel_cache import refresh_periodically
from rules.faults import Fault, InputFaults, LinkError, Place

LOOPBACK_HOSTS = frozenset({"127.0.0.1", "localhost", "::1"})
WILDCARD_HOSTS = frozenset({"0.0.0.0", "::"})  # noqa: S104 - recognised, so that a reachable address is shown
SHUTDOWN_TIMEOUT_S = 3.0


def parse_address(text: str) -> tuple[str, int]:
    """Split `HOST:PORT` of the option into host and port; an IPv6 host is in brackets.

    Raises:
        InputFaults: the text has another form, or the port is out of range.
    """
    parts = split_host_port(text)
    if parts is None:
        raise InputFaults(
            [
                Fault(
                    Place("--page"),
                    f"{text} is not an address",
                    f"HOST:PORT such as {DEFAULT_ADDRESS}, or {OFF}",
                )
            ]
        )
    return parts


@asynccontextmanager
async def page_server(page: PageApp, host: str, port: int) -> AsyncIterator[str]:
    """Serve the page while the block runs.

    Args:
        page: the application.
        host: the address to listen on; loopback unless the user chose another.
        port: the TCP port, 0 for any free port.

    Yields:
        The page's address for a browser.

    Raises:
        LinkError: the port is in use or may not be used.
    """
    bound = _listening_socket(host, port)
    _log_server_errors()
    config = uvicorn.Config(
        page.asgi,
        http=BoundedProtocol,
        log_config=None,
        access_log=False,
        lifespan="off",
        ws="none",
        workers=1,
    )
    server = _Server(config)
    serving = asyncio.create_task(server.serve([bound]), name="page")
    refreshing = asyncio.create_task(refresh_periodically(page.all_caches))
    try:
        yield f"http://{_reachable_host(host)}:{bound.getsockname()[1]}/"
    finally:
        page.shutdown.request()
        server.should_exit = True
        refreshing.cancel()
        with suppress(TimeoutError):
            await asyncio.wait_for(asyncio.shield(serving), SHUTDOWN_TIMEOUT_S)
        server.force_exit = True
        await asyncio.gather(serving, refreshing, return_exceptions=True)
        await _cut_off_remaining(server)
        bound.close()


class _ServerLogHandler(logging.Handler):
    """Writes what the server reports into our log."""

    def emit(self, record: logging.LogRecord) -> None:
        """Write one report, with its exception in one line."""
        error = record.exc_info[1] if record.exc_info else None
        why = {} if error is None else {"why": repr(error)}
        structlog.get_logger("page").warning(record.getMessage().strip(), **why)


def _log_server_errors() -> None:
    """Send the server's reports into our log: without a handler, Python prints tracebacks of single clients into the live view."""
    logger = logging.getLogger("uvicorn.error")
    logger.propagate = False
    if not any(isinstance(handler, _ServerLogHandler) for handler in logger.handlers):
        logger.addHandler(_ServerLogHandler(logging.WARNING))


async def _cut_off_remaining(server: uvicorn.Server) -> None:
    """End the connections of clients that do not read, so that their streams end here and not as cancelled tasks."""
    remaining = list(server.server_state.tasks)
    for connection in list(server.server_state.connections):
        transport = connection.transport
        if transport is not None:
            transport.abort()
    if remaining:
        await asyncio.wait(remaining, timeout=SHUTDOWN_TIMEOUT_S)


def qr_code(address: str) -> str:
    """Draw the address as a QR code, in half blocks for a terminal."""
    code = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(code, compact=True, border=2)
    return code.getvalue()


class _Server(uvicorn.Server):
    """A uvicorn server that leaves the process signals to the watch."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Install no signal handlers."""
        yield


def _listening_socket(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((host, port))
        bound.listen()  # reserves the port from here on
    except OSError as error:
        bound.close()
        why = f"cannot be used: {error.strerror}."
        if error.errno == errno.EADDRINUSE:
            why = "is in use by another program; is a watch already running?"
        raise LinkError(f"port {port} on {host} {why} Choose another with --page HOST:PORT") from error
    return bound


def _reachable_host(host: str) -> str:
    """Return an address at which other screens in the same network reach this machine."""
    if host not in WILDCARD_HOSTS:
        return f"[{host}]" if ":" in host else host
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(
                ("192.0.2.1", 9)
            )  # an address for documentation (RFC 5737); a UDP connect sends nothing
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()
