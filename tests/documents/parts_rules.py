"""Generates the parts of the documents on signals and arithmetic.

Takes: the code.  Gives: `PARTS`, as in `tests.documents.generated`.
"""

from __future__ import annotations

from collections.abc import Callable

from rules.packs.schema import FigureForm, TableForm
from rules.signals.book import BookForm, ChapterForm
from rules.signals.book_entry import SignalEntry
from rules.signals.units import COMMON_UNITS, SPELLINGS
from tests.documents.forms import keys_of, titled_keys
from tests.documents.markdown import code, table


def _units() -> str:
    return table(
        ("unit", "hint for these spellings"),
        [(code(unit), ", ".join(map(code, SPELLINGS.get(unit, ())))) for unit in COMMON_UNITS],
    )


PARTS: dict[str, Callable[[], str]] = {
    "figure keys": lambda: titled_keys({"Table": TableForm, "Figure": FigureForm}),
    "signal keys": lambda: keys_of(SignalEntry),
    "book keys": lambda: titled_keys({"Book": BookForm, "Chapter": ChapterForm}),
    "units": _units,
}
