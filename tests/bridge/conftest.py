"""Fixtures that several tests of the bridge use.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import NamedTuple

import pytest
from sqlalchemy import Engine

from bridge.cli import main
from bridge.store.database import open_store
from rules.packs.model import Pack
from tests.bridge.builders import small_pack
from tests.contract.waiting import ManualClock
from tests.postgres import Server, programs
from tests.requirements import POSTGRESQL, skip_or_fail


class CommandResult(NamedTuple):
    """Exit code and output of a command."""

    code: int
    out: str
    err: str


Command = Callable[..., CommandResult]
DATABASE_NUMBERS = count(1)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """Start a PostgreSQL server with an empty, migrated database `template`; without one its tests are skipped, and fail in CI."""
    bin_folder = programs()
    if bin_folder is None:
        skip_or_fail(POSTGRESQL)
    server = Server(bin_folder)
    try:
        server.start()
        server.sql("CREATE DATABASE template")
        open_store(server.url("template")).dispose()
        yield server
    finally:
        server.remove()


@pytest.fixture(params=["sqlite", "postgres"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Give the address of a new empty store, on each kind of database."""
    with _database(request, tmp_path, "template") as address:
        yield address


@pytest.fixture(params=["sqlite", "postgres"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Give the address of a database without any table, of each kind."""
    with _database(request, tmp_path, "template0") as address:
        yield address


@contextmanager
def _database(request: pytest.FixtureRequest, folder: Path, template: str) -> Iterator[str]:
    """Return the address of a new database of this kind."""
    if request.param == "sqlite":
        yield f"sqlite:///{folder / 'store.sqlite'}"
        return
    server: Server = request.getfixturevalue("postgres")
    name = f"store_{next(DATABASE_NUMBERS)}"
    server.sql(f"CREATE DATABASE {name} TEMPLATE {template}")
    yield server.url(name)
    server.sql(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def store(address: str) -> Iterator[Engine]:
    """Open an empty store on each kind of database."""
    engine = open_store(address)
    yield engine
    engine.dispose()


@pytest.fixture(scope="session")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """Load the small pack."""
    return small_pack(tmp_path_factory.mktemp("packs") / "small")


@pytest.fixture
def clock() -> ManualClock:
    """Give a clock that the test moves."""
    return ManualClock()


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Give a function that runs `holdshort` with these arguments in this process."""

    def run(*words: object) -> CommandResult:
        monkeypatch.setattr(sys, "argv", ["holdshort", *map(str, words)])
        with pytest.raises(SystemExit) as caught:
            main()
        output = capsys.readouterr()
        code = caught.value.code
        assert isinstance(code, int)
        return CommandResult(code, output.out, output.err)

    return run
