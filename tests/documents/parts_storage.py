"""Generates the parts of the documents on recordings, the store and exports.

Takes: the code.  Gives: `PARTS`, as in `tests.documents.generated`.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.privacy.export import EXPORT_FIELDS
from bridge.recording.file_format import CHANNEL_MEANINGS, CHANNELS, EVENT_TYPES
from bridge.store import schema
from tests.documents.markdown import code, table


def _recording_channels() -> str:
    events = {topic: (kind.__doc__ or "").splitlines()[0] for topic, kind in EVENT_TYPES.items()}
    return table(
        ("channel", "contains"), [(code(topic), {**CHANNEL_MEANINGS, **events}[topic]) for topic in CHANNELS]
    )


def _store_tables() -> str:
    return table(
        ("table", "columns", "contains"),
        [
            (
                code(name),
                ", ".join(code(column.name) for column in schema.metadata.tables[name].columns),
                meaning,
            )
            for name, meaning in schema.TABLE_MEANINGS.items()
        ],
    )


def _person_export() -> str:
    return table(("field", "contains"), [(code(name), meaning) for name, meaning in EXPORT_FIELDS.items()])


PARTS: dict[str, Callable[[], str]] = {
    "recording channels": _recording_channels,
    "store tables": _store_tables,
    "person export": _person_export,
}
