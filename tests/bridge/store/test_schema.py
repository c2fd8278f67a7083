"""Tests that every table is described."""

from __future__ import annotations

from bridge.store import schema


def test_every_table_is_described() -> None:
    """Each table has a description in the documents."""
    assert schema.TABLE_MEANINGS.keys() == schema.metadata.tables.keys()


def test_every_table_but_two_belongs_to_sessions() -> None:
    """Rows of all tables but `person`, `session` and `setting` belong to a session."""
    names = {table.name for table in schema.SESSION_TABLES}
    assert names | {"person", "session", "setting"} == set(schema.metadata.tables)
