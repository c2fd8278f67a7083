"""Test that the tests' own database server starts although its port is still in use."""

from __future__ import annotations

import socket
import threading

from tests.postgres import Server, programs
from tests.requirements import POSTGRESQL, skip_or_fail

BUSY_S = 1.0


def test_a_server_starts_once_its_port_is_free() -> None:
    """A process that holds the port for a second delays the start and does not prevent it."""
    bin_folder = programs()
    if bin_folder is None:
        skip_or_fail(POSTGRESQL)
    server = Server(bin_folder)
    holder = socket.create_server(("127.0.0.1", server.port))
    timer = threading.Timer(BUSY_S, holder.close)
    timer.start()
    try:
        server.start()
        server.sql("SELECT 1")
    finally:
        timer.join()
        server.remove()
