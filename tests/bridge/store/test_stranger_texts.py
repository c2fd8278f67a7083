"""Tests of a store to which a stranger wrote: no text of it reaches a screen with a character that must not be shown."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Connection, Engine, Text, func, select, type_coerce, update

from bridge.privacy.erasure import erase
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import open_store, read_transaction, write_transaction
from bridge.store.text_types import PrintableJson, PrintableText
from rules.packs.model import Pack
from tests.bridge.privacy.two_sessions import HERON, record_two_sessions

STRANGE = "\x1b[2J\u202ehidden\x07"
"""Clears a terminal, turns the direction of writing, and rings."""
FORBIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


@pytest.fixture
def data_dir(pack: Pack, tmp_path: Path, address: str) -> DataDir:
    """Two sessions in a store."""
    directory = DataDir(tmp_path / "data_dir")
    record_two_sessions(pack, directory, address)
    return directory


@pytest.fixture
def engine(data_dir: DataDir, address: str) -> Iterator[Engine]:
    """The store of the two sessions, to every text of which the stranger added."""
    assert data_dir.store.parent.is_dir()
    opened = open_store(address)
    with write_transaction(opened) as connection:
        _add_to_every_text(connection)
    yield opened
    opened.dispose()


def _add_to_every_text(connection: Connection) -> None:
    """Write the strange text behind every text that is stored, and into every list or object."""
    for table in schema.metadata.tables.values():
        for column in table.columns:
            stored = type_coerce(column, Text)
            if isinstance(column.type, PrintableText) and table.name != "setting":
                connection.execute(update(table).values({column.name: stored + STRANGE}))
            elif isinstance(column.type, PrintableJson):
                connection.execute(update(table).values({column.name: {STRANGE: [STRANGE]}}))


def _texts(value: object) -> Iterator[str]:
    """Give all texts in plain data."""
    match value:
        case str():
            yield value
        case dict():
            for key, each in value.items():
                yield from (key, *_texts(each))
        case list() | tuple():
            for each in value:
                yield from _texts(each)


def _is_shown_safely(text: str) -> bool:
    return all(unicodedata.category(c) not in FORBIDDEN or c in "\n\r\t" for c in text)


def test_no_row_has_a_forbidden_character(engine: Engine) -> None:
    """Every text of every table is cleaned when it is read, and the rest of it stays."""
    with read_transaction(engine) as connection:
        tables = schema.metadata.tables.values()
        rows = [tuple(row) for table in tables for row in connection.execute(select(table))]
    texts = [text for row in rows for text in _texts(row)]
    assert sum("hidden" in text for text in texts) > 50
    assert [text for text in texts if not _is_shown_safely(text)] == []


def test_erasing_finds_the_stored_text(engine: Engine, data_dir: DataDir, address: str) -> None:
    """A remark that names the person is redacted, although a stranger's characters stand in it."""
    stored = type_coerce(schema.remark.c.text, Text)
    with write_transaction(engine) as connection:
        before = connection.execute(select(stored)).scalars().all()
        for column in (schema.person.c.pseudonym, schema.session.c.recording):  # by these it is found
            as_before = func.replace(type_coerce(column, Text), STRANGE, "")
            connection.execute(update(column.table).values({column.name: as_before}))
    assert any(HERON in text and STRANGE in text for text in before)
    erase(HERON, engine, data_dir, address)
    with read_transaction(engine) as connection:
        after = connection.execute(select(stored)).scalars().all()
    assert [text for text in after if re.search(rf"\b{HERON}\b", text)] == []
    assert any(STRANGE in text for text in after)
