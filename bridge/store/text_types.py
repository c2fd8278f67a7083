"""Types of columns whose texts are cleaned when they are read, since a stranger may have written to the database.

What we write was cleaned before.  A statement that has to find the stored text itself reads the column as `Text`.

Takes: a column's value.  Gives: `PrintableText`, `PrintableJson`.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, Dialect, Text, TypeDecorator

from bridge.common.printable_texts import printable_texts


class PrintableText(TypeDecorator[str]):
    """A text of any length."""

    impl = Text
    cache_ok = True

    def process_result_value(self, value: str | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        """Clean a text that was read."""
        return value if value is None or value.isprintable() else printable_texts(value)


class PrintableJson(TypeDecorator[Any]):
    """Plain data."""

    impl = JSON
    cache_ok = True

    def process_result_value(self, value: Any, dialect: Dialect) -> Any:  # noqa: ANN401, ARG002 - any plain data
        """Clean the texts in data that were read."""
        return printable_texts(value)
