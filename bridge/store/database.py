"""Opens a store, and brings the tables of an older one up to date with their rows.

SQLite needs no set-up: one file, in WAL mode, so that reading and writing do not stand in each other's way.  PostgreSQL goes
by its URL.

Takes: a URL.  Gives: an engine whose tables are those of `bridge.store.schema`.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.util import CommandError
from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from bridge.runtime.data_dir import DataDir
from rules.faults import Fault, HoldshortError, InputFaults, Place

STORE_VARIABLE = "HOLDSHORT_STORE"
BUSY_TIMEOUT_S = 5.0
"""How long another writer is waited for before the work is tried anew later."""
PSYCOPG_HINT = (
    "PostgreSQL needs psycopg: pip install 'holdshort[postgres]', "
    "or in a clone .venv/bin/pip install -c .ci/constraints.txt -e '.[postgres]'"
)
_MIGRATIONS = Path(__file__).parent / "migrations"
_MIGRATION_LOCK = 0x686F6C64
"""Names the lock under which PostgreSQL is migrated; any number that nobody else uses."""
_BACKENDS = ("sqlite", "postgresql")


class StoreError(HoldshortError):
    """The database cannot be reached or used now; what was to be stored waits."""


def store_url(data_dir: DataDir | None, option: str = "") -> str:
    """Which store is meant.

    Args:
        data_dir: the folder in which things are kept.
        option: a URL, or '' where none was given: then the environment variable counts, then the folder.

    Returns:
        The URL; '' where nothing is kept.

    Raises:
        InputFaults: it is no URL of a database that we can use.
    """
    said = option or os.environ.get(STORE_VARIABLE, "")
    if said:
        return parse_url(said).render_as_string(hide_password=False)
    return str(URL.create("sqlite", database=str(data_dir.store))) if data_dir is not None else ""


def parse_url(url_text: str) -> URL:
    """A URL of a database that we can use.

    Raises:
        InputFaults: it is none.
    """
    expected = "sqlite:///FILE or postgresql://USER@HOST/DATABASE"
    try:
        url = make_url(url_text)
    except (ArgumentError, ValueError):
        raise InputFaults(
            [Fault(Place("--store"), f"{url_text} is no address of a database", expected)]
        ) from None
    kind = url.get_backend_name()
    if kind not in _BACKENDS:
        raise InputFaults([Fault(Place("--store"), f"{kind} is not supported", expected)])
    if kind == "sqlite" and not url.database:
        raise InputFaults([Fault(Place("--store"), "this names no file", expected)])
    return url.set(drivername="postgresql+psycopg") if url.drivername == "postgresql" else url


def redact_password(url: str) -> str:
    """A URL as it may be shown: without its password."""
    return make_url(url).render_as_string(hide_password=True)


def open_store(url: str) -> Engine:
    """Open a store and migrate it, if it is older than this program.

    Args:
        url: as of `store_url`.

    Returns:
        An engine; use it through `writing` and `reading`.

    Raises:
        InputFaults: the store is no store, or newer than this program.
        StoreError: it cannot be reached now.
    """
    engine = make_engine(url)
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
    """An engine that has not connected yet.

    Raises:
        InputFaults: the library for this kind of database is not installed.
    """
    made = parse_url(url)
    if made.get_backend_name() == "sqlite":
        engine = create_engine(made, connect_args={"timeout": BUSY_TIMEOUT_S, "check_same_thread": False})
        event.listen(engine, "connect", _set_pragmas)
        event.listen(engine, "begin", _begin_transaction)
        return engine
    try:
        return create_engine(
            made,
            pool_pre_ping=True,
            pool_size=2,
            connect_args={"connect_timeout": int(BUSY_TIMEOUT_S), "application_name": "holdshort"},
        )
    except (ModuleNotFoundError, NoSuchModuleError):
        raise InputFaults([Fault(Place("--store"), PSYCOPG_HINT)]) from None


def migrate(engine: Engine, to: str = "head") -> None:
    """Bring the tables up to a revision, in one transaction; two programs that start at once do it one after the other.

    Args:
        engine: of `connect`.
        to: the revision; `head` for the newest.

    Raises:
        InputFaults: the store is newer than this program.
        DBAPIError: the database cannot be reached or used now.
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
            what = f"this store is not of a form that this program knows ({error})"
            hint = "a newer holdshort made it: use that one, or another store"
            raise InputFaults([Fault(Place(redact_password(str(engine.url))), what, hint=hint)]) from None


@contextmanager
def write_transaction(engine: Engine) -> Iterator[Connection]:
    """A transaction that writes; it ends whole or not at all."""
    with engine.execution_options(writes=True).begin() as connection:
        yield connection


@contextmanager
def read_transaction(engine: Engine) -> Iterator[Connection]:
    """A transaction that only reads, and sees one state of the store throughout.

    Raises:
        StoreError: the database cannot be reached or used now.
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
    """A transaction that only reads a store, which is not made where it is not there: then there is None.

    Args:
        url: as of `store_url`; '' for none.

    Raises:
        InputFaults: the store is no store, or newer than this program.
        StoreError: it cannot be reached now.
    """
    made = parse_url(url) if url else None
    if made is None or (made.get_backend_name() == "sqlite" and not Path(made.database or "").is_file()):
        yield None
        return
    engine = open_store(url)
    try:
        with read_transaction(engine) as connection:
            yield connection
    finally:
        engine.dispose()


def database_message(error: DBAPIError) -> str:
    """The database's own words, on one line."""
    return " ".join(str(error.orig).split()) or type(error.orig).__name__


def _set_pragmas(connection: Any, _: object) -> None:  # noqa: ANN401 - the driver's own connection
    """Set a new connection of SQLite up."""
    connection.isolation_level = None  # transactions are begun by `_begin`
    for pragma in (
        f"busy_timeout = {BUSY_TIMEOUT_S * 1000:.0f}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "secure_delete = ON",
    ):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin_transaction(connection: Connection) -> None:
    """Take the write lock at once where something is to be written: later it might be refused."""
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
