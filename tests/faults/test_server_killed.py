"""A hundred times the database server is killed, and the watch with it: no finding is lost, none is doubled."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from multiprocessing.context import ForkServerProcess
from pathlib import Path

import pytest

from tests.faults.kill_rounds import compare, kill_rounds
from tests.postgres import MISSING, Server, programs


@pytest.fixture
def durable() -> Iterator[Server]:
    """A server of its own that waits for the disk, as one in earnest does, to be killed."""
    bin_folder = programs()
    if bin_folder is None:
        if os.environ.get("CI"):
            pytest.fail(MISSING)
        pytest.skip(MISSING)
    server = Server(bin_folder, durable=True)
    try:
        server.start()
        server.sql("CREATE DATABASE store")
        yield server
    finally:
        server.remove()


def test_a_hundred_watches_killed_and_the_server_with_them(tmp_path: Path, durable: Server) -> None:
    """PostgreSQL: in each round the server is killed too, before the watch is; no finding is lost, none doubled."""
    chance = random.Random(2)

    def kill_the_server(watch: ForkServerProcess) -> None:
        durable.kill()
        watch.join(chance.uniform(0.0, 0.1))  # it goes on without the server
        durable.start()

    heard = kill_rounds(tmp_path, durable.url("store"), chance, kill_the_server)
    compare(durable.url("store"), heard)
