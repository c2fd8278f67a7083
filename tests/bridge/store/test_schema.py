"""The tables are explained."""

from __future__ import annotations

from pathlib import Path

from bridge.store import schema


def test_every_table_is_explained() -> None:
    """Each table has a docstring beside it, so that an author of reports can read what it holds."""
    text = Path(schema.__file__).read_text(encoding="utf-8")
    for name in schema.metadata.tables:
        if name != "setting":
            after = text.partition(f'\n{name} = Table(\n    "{name}"')[2]
            assert after.partition("\n)\n")[2].startswith('"""'), name
    assert set(schema.metadata.tables) == {
        "person", "session", "setting", *(table.name for table in schema.SESSION_TABLES)
    }  # fmt: skip
