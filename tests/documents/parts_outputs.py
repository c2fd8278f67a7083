"""Generates the parts of the documents on the debrief, the notifiers and the voice.

Takes: the code.  Gives: `PARTS`, as in `tests.documents.generated`.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.debrief.tables import TABLES
from tests.documents.markdown import code, table


def _debrief_tables() -> str:
    return table(
        ("table", "columns", "contains"),
        [(code(name), ", ".join(map(code, form.columns)), form.description) for name, form in TABLES.items()],
    )


PARTS: dict[str, Callable[[], str]] = {
    "debrief tables": _debrief_tables,
}
