"""Makes the database release the space of deleted rows, so that their data is not on the disk any more.

A setting in the store marks that this is pending, so that the next run can finish an interrupted one.

Takes: a store.  Gives: the reason why this is impossible now, '' if it was done.
"""

from __future__ import annotations

import sqlite3

from sqlalchemy import Connection, Engine, Table, delete, insert, select, text
from sqlalchemy.exc import DBAPIError

from bridge.store import schema
from bridge.store.database import database_message, write_transaction

PENDING_KEY = "vacuum pending"
LOCK_TIMEOUT_S = 10
TEXT_COLUMNS: tuple[tuple[Table, tuple[str, ...]], ...] = (
    (schema.session, ("name", "course", "trip_title")),
    (schema.call, ("by",)),
    (schema.remark, ("text", "by")),
    (schema.waiver, ("by", "reason", "undone_by", "undone_reason")),
)
"""The columns of the store with texts of people."""
_TABLES = ", ".join(
    t.name for t in (schema.person, schema.seating, schema.finding, *(t for t, _ in TEXT_COLUMNS))
)


def mark_pending(connection: Connection) -> None:
    """Mark, in the transaction that deletes rows, that a vacuum is pending."""
    clear_pending(connection)
    connection.execute(insert(schema.setting).values(key=PENDING_KEY, value="yes"))


def clear_pending(connection: Connection) -> None:
    """Remove the mark."""
    connection.execute(delete(schema.setting).where(schema.setting.c.key == PENDING_KEY))


def is_pending(connection: Connection) -> bool:
    """Return True if a vacuum is pending."""
    return (
        connection.execute(select(schema.setting).where(schema.setting.c.key == PENDING_KEY)).first()
        is not None
    )


def run_vacuum(engine: Engine) -> str:
    """Rewrite the tables without deleted rows; never raises for errors of the database.

    Returns:
        The reason of a failure; '' if it was done and the mark is removed.
    """
    try:
        problem = _vacuum_sqlite(engine) if engine.dialect.name == "sqlite" else _vacuum_postgres(engine)
        if not problem:
            with write_transaction(engine) as connection:
                clear_pending(connection)
    except sqlite3.Error as error:
        return str(error)
    except DBAPIError as error:
        return database_message(error)
    return problem


def _vacuum_sqlite(engine: Engine) -> str:
    """Rewrite the file and empty the write-ahead log, outside any transaction."""
    raw = engine.raw_connection()
    try:
        cursor = raw.cursor()
        busy = 0
        for statement in ("PRAGMA wal_checkpoint(TRUNCATE)", "VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
            result = cursor.execute(statement)
            busy = int((result.fetchone() or [0])[0]) if statement.startswith("PRAGMA") else 0
        cursor.close()
    finally:
        raw.close()
    return "another program reads the store" if busy else ""


def _vacuum_postgres(engine: Engine) -> str:
    """Rewrite the tables and the server's statistics of their values."""
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text(f"SET lock_timeout = '{LOCK_TIMEOUT_S}s'"))
        try:
            connection.execute(text(f"VACUUM (FULL, ANALYZE) {_TABLES}"))
            connection.execute(
                text("VACUUM FULL pg_catalog.pg_statistic")
            )  # it contains samples of the values
        finally:
            connection.execute(text("RESET lock_timeout"))
    return ""
