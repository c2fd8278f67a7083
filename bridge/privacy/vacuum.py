"""Lets a database give up the space in which something stood that was removed.

A mark in the store says that this is still to be done, so that a run that was cut off can be finished later.

Takes: a store.  Gives: why it could not be done now, '' where it was.
"""

from __future__ import annotations

import sqlite3

from sqlalchemy import Connection, Engine, delete, insert, select, text
from sqlalchemy.exc import DBAPIError

from bridge.store import schema
from bridge.store.database import database_message, write_transaction

PENDING_KEY = "vacuum pending"
LOCK_TIMEOUT_S = 10
_TABLES = "person, session, seating, finding, call, remark"


def mark_pending(connection: Connection) -> None:
    """Say, in the transaction that removes something, that it is still to be forgotten."""
    clear_pending(connection)
    connection.execute(insert(schema.setting).values(key=PENDING_KEY, value="yes"))


def clear_pending(connection: Connection) -> None:
    """It is forgotten."""
    connection.execute(delete(schema.setting).where(schema.setting.c.key == PENDING_KEY))


def is_pending(connection: Connection) -> bool:
    """Whether something is still to be forgotten."""
    return (
        connection.execute(select(schema.setting).where(schema.setting.c.key == PENDING_KEY)).first()
        is not None
    )


def run_vacuum(engine: Engine) -> str:
    """Write the tables anew, without what was removed; never raises for what the database says.

    Returns:
        Why it could not be done; '' where it was done, and the mark is gone.
    """
    try:
        trouble = _vacuum_sqlite(engine) if engine.dialect.name == "sqlite" else _vacuum_postgres(engine)
        if not trouble:
            with write_transaction(engine) as connection:
                clear_pending(connection)
    except sqlite3.Error as error:
        return str(error)
    except DBAPIError as error:
        return database_message(error)
    return trouble


def _vacuum_sqlite(engine: Engine) -> str:
    """Write the file anew and empty the file of what was written last; outside any transaction."""
    raw = engine.raw_connection()
    try:
        cursor = raw.cursor()
        busy = 0
        for statement in ("PRAGMA wal_checkpoint(TRUNCATE)", "VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
            said = cursor.execute(statement)
            busy = int((said.fetchone() or [0])[0]) if statement.startswith("PRAGMA") else 0
        cursor.close()
    finally:
        raw.close()
    return "another program reads the store" if busy else ""


def _vacuum_postgres(engine: Engine) -> str:
    """Write the tables and what the server reckons of them anew."""
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text(f"SET lock_timeout = '{LOCK_TIMEOUT_S}s'"))
        try:
            connection.execute(text(f"VACUUM (FULL, ANALYZE) {_TABLES}"))
            connection.execute(text("VACUUM FULL pg_catalog.pg_statistic"))  # it holds samples of the values
        finally:
            connection.execute(text("RESET lock_timeout"))
    return ""
