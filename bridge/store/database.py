"""Opens a store, and migrates the tables and rows of an older one.

SQLite needs no set-up: one file, in WAL mode, so that readers and the writer do not block each other.  PostgreSQL is
used if the URL names it.

Takes: a URL.  Gives: an engine whose tables are those of `bridge.store.schema`.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.util import CommandError
from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from bridge.common.private_file import make_private
from bridge.runtime.data_dir import DataDir
from rules.faults import Fault, HoldshortError, InputFaults, Place

STORE_VARIABLE = "HOLDSHORT_STORE"
BUSY_TIMEOUT_S = 5.0
"""How long SQLite waits for another writer before the attempt fails and is repeated later."""
PSYCOPG_HINT = (
    "PostgreSQL needs psycopg: pip install 'holdshort[postgres]', or in a clone python3 .ci/fresh tools"
)
_MIGRATIONS = Path(__file__).parent / "migrations"
_MIGRATION_LOCK = 0x686F6C64
"""The number of the advisory lock for migrations in PostgreSQL; any number that no other program uses."""
_BACKENDS = ("sqlite", "postgresql")


class StoreError(HoldshortError):
    """The database cannot be reached or used now; records wait in the spool."""


def store_url(data_dir: DataDir | None, option: str = "") -> str:
    """Return the URL of the store.

    Args:
        data_dir: The data directory.
        option: A URL, or '' if none was given: then the environment variable counts, then the data directory.

    Returns:
        The URL; '' if nothing is stored.

    Raises:
        InputFaults: This is no URL of a supported database.
    """
    given = option or os.environ.get(STORE_VARIABLE, "")
    if given:
        return parse_url(given).render_as_string(hide_password=False)
    return str(URL.create("sqlite", database=str(data_dir.store))) if data_dir is not None else ""


def parse_url(url_text: str) -> URL:
    """Parse the URL of a supported database.

    Raises:
        InputFaults: This is no such URL.
    """
    expected = "sqlite:///FILE or postgresql://USER@HOST/DATABASE"
    try:
        url = make_url(url_text)
    except (ArgumentError, ValueError):
        raise InputFaults(
            [Fault(Place("--store"), f"{url_text} is not the address of a database", expected)]
        ) from None
    kind = url.get_backend_name()
    if kind not in _BACKENDS:
        raise InputFaults([Fault(Place("--store"), f"{kind} is not supported", expected)])
    if kind == "sqlite" and not url.database:
        raise InputFaults([Fault(Place("--store"), "the address names no file", expected)])
    return url.set(drivername="postgresql+psycopg") if url.drivername == "postgresql" else url


def redact_password(url: str) -> str:
    """Return a URL without its password, for output."""
    return make_url(url).render_as_string(hide_password=True)


def store_title(url: str) -> str:
    """Name a store for output: the path of a file, or a URL without its password."""
    parsed = make_url(url)
    is_file = parsed.get_backend_name() == "sqlite" and parsed.database
    return parsed.database or "" if is_file else redact_password(url)


def open_store(url: str) -> Engine:
    """Open a store, and migrate it if it is older than this program.

    Args:
        url: A URL as from `store_url`.

    Returns:
        An engine; use it through `write_transaction` and `read_transaction`.

    Raises:
        InputFaults: The database is not a store, or newer than this program.
        StoreError: The database cannot be reached now.
    """
    engine = make_engine(url)
    parsed = parse_url(url)
    if parsed.get_backend_name() == "sqlite" and parsed.database:
        with suppress(OSError):  # the database then says why it cannot be opened
            make_private(Path(parsed.database))
    try:
        migrate(engine)
    except DBAPIError as error:
        engine.dispose()
        raise StoreError(f"{redact_password(url)}: {database_message(error)}") from error
    except InputFaults:
        engine.dispose()
        raise
    return engine


def make_engine(url: str) -> Engine:
    """Create an engine that has not connected yet.

    Raises:
        InputFaults: The library for this kind of database is not installed.
    """
    parsed = parse_url(url)
    if parsed.get_backend_name() == "sqlite":
        engine = create_engine(parsed, connect_args={"timeout": BUSY_TIMEOUT_S, "check_same_thread": False})
        event.listen(engine, "connect", _set_pragmas)
        event.listen(engine, "begin", _begin_transaction)
        return engine
    try:
        return create_engine(
            parsed,
            pool_pre_ping=True,
            pool_size=2,
            connect_args={"connect_timeout": int(BUSY_TIMEOUT_S), "application_name": "holdshort"},
        )
    except (ModuleNotFoundError, NoSuchModuleError):
        raise InputFaults([Fault(Place("--store"), PSYCOPG_HINT)]) from None


def migrate(engine: Engine, to: str = "head") -> None:
    """Migrate the tables to a revision in one transaction; programs that start together do it one after the other.

    Args:
        engine: An engine of `make_engine`.
        to: The revision; `head` for the newest.

    Raises:
        InputFaults: The store is newer than this program.
        DBAPIError: The database cannot be reached or used now.
    """
    config = Config(attributes={})
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    with write_transaction(engine) as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _MIGRATION_LOCK})
        config.attributes["connection"] = connection
        try:
            command.upgrade(config, to)
        except CommandError as error:
            reason = f"this store has an unknown version ({error})"
            hint = "a newer holdshort wrote it: use that version, or another store"
            raise InputFaults([Fault(Place(redact_password(str(engine.url))), reason, hint=hint)]) from None


@contextmanager
def write_transaction(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that writes; it takes effect completely or not at all."""
    with engine.execution_options(writes=True).begin() as connection:
        yield connection


@contextmanager
def read_transaction(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that only reads, and sees one state of the store throughout.

    Raises:
        StoreError: The database cannot be reached or used now.
    """
    try:
        options: dict[str, Any] = {}
        if engine.dialect.name == "postgresql":
            options = {"isolation_level": "REPEATABLE READ"}
        with engine.execution_options(**options).begin() as connection:
            yield connection
    except DBAPIError as error:
        raise StoreError(
            f"{redact_password(engine.url.render_as_string(hide_password=False))}: {database_message(error)}"
        ) from error


@contextmanager
def read_existing_store(url: str) -> Iterator[Connection | None]:
    """Open a transaction that reads a store; gives None instead of creating a store that does not exist.

    Args:
        url: A URL as from `store_url`; '' for none.

    Raises:
        InputFaults: The database is not a store, or newer than this program.
        StoreError: The database cannot be reached now.
    """
    parsed = parse_url(url) if url else None
    if parsed is None or (
        parsed.get_backend_name() == "sqlite" and not Path(parsed.database or "").is_file()
    ):
        yield None
        return
    engine = open_store(url)
    try:
        with read_transaction(engine) as connection:
            yield connection
    finally:
        engine.dispose()


def database_message(error: DBAPIError) -> str:
    """Return the database's error message on one line."""
    return " ".join(str(error.orig).split()) or type(error.orig).__name__


def _set_pragmas(connection: Any, _: object) -> None:  # noqa: ANN401 - the driver's own connection
    """Configure a new SQLite connection."""
    connection.isolation_level = None  # `_begin_transaction` starts transactions
    for pragma in (
        f"busy_timeout = {BUSY_TIMEOUT_S * 1000:.0f}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "secure_delete = ON",
    ):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin_transaction(connection: Connection) -> None:
    """Take SQLite's write lock at the start of a writing transaction; later it might be refused."""
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
