"""Tests with a database server killed again and again, and the watch with it."""

from __future__ import annotations

import random
from collections.abc import Iterator
from multiprocessing.context import ForkServerProcess
from pathlib import Path

import pytest

from tests.faults.kill_rounds import compare, kill_rounds
from tests.postgres import Server, programs
from tests.requirements import POSTGRESQL, skip_or_fail


@pytest.fixture
def durable() -> Iterator[Server]:
    """Start a server for these tests that writes through to the disk."""
    bin_folder = programs()
    if bin_folder is None:
        skip_or_fail(POSTGRESQL)
    server = Server(bin_folder, durable=True)
    try:
        server.start()
        server.sql("CREATE DATABASE store")
        yield server
    finally:
        server.remove()


@pytest.mark.timeout(1200)  # many starts of a server, beside other tests
def test_findings_survive_every_kill_of_server_and_watch(
    tmp_path: Path, durable: Server, rounds: int
) -> None:
    """With PostgreSQL killed before the watch in each round no finding is lost and none is doubled."""
    chance = random.Random(2)

    def kill_the_server(watch: ForkServerProcess) -> None:
        durable.kill()
        watch.join(chance.uniform(0.0, 0.1))  # it goes on without the server
        durable.start()

    published = kill_rounds(tmp_path, durable.url("store"), chance, rounds, kill_the_server)
    compare(durable.url("store"), published, rounds)
