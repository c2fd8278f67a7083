"""Gives the fresh values of signals at one frame of a recording, looked up in columns.

Takes: a cursor.  Gives: `CursorValues`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rules.language.batch import ColumnCursor
from rules.signals.model import Value


class CursorValues(Mapping[str, Value]):
    """Fresh values at the cursor, by name."""

    def __init__(self, cursor: ColumnCursor) -> None:
        self._cursor = cursor

    def get(self, name: str, default: object = None) -> Value | None:  # type: ignore[override]  # noqa: ARG002
        """Value of a signal, None where it is not fresh."""
        column = self._cursor.segment.columns.get(name)
        return column.value_at(self._cursor.step) if column is not None else None

    def __contains__(self, name: object) -> bool:
        return self.get(str(name)) is not None

    def __getitem__(self, name: str) -> Value:
        value = self.get(name)
        if value is None:
            raise KeyError(name)
        return value

    def __iter__(self) -> Iterator[str]:
        return (name for name in self._cursor.segment.columns if name in self)

    def __len__(self) -> int:
        return sum(1 for _ in self)
