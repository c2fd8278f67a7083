"""Generates the parts of the documents on recordings, events, the store and exports.

Takes: the code.  Gives: `PARTS`, as in `tests.documents.generated`.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.privacy.export import EXPORT_FIELDS
from bridge.recording.file_format import CHANNEL_MEANINGS, CHANNELS
from bridge.session.session_events import KIND_MEANINGS
from bridge.store import schema
from tests.documents.markdown import code, table

OTHER_KINDS = {
    "lost": (
        "`count` messages from number `first` to number `last` were not delivered by this notifier, by kinds: its queue was full."
    ),
    "state": "ZeroMQ only: the phase and the open findings, with the number of the latest message.",
}
"""Kinds of messages that are no events."""


def _recording_channels() -> str:
    return table(("channel", "contains"), [(code(topic), CHANNEL_MEANINGS[topic]) for topic in CHANNELS])


def _event_kinds() -> str:
    return table(
        ("kind", "says"),
        [(code(kind), meaning) for kind, meaning in {**KIND_MEANINGS, **OTHER_KINDS}.items()],
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
    "event kinds": _event_kinds,
    "store tables": _store_tables,
    "person export": _person_export,
}
