"""Defines the tables of the store, as the newest migration leaves them.

`sim_s` and other columns in `_s` are seconds of the simulator's clock, which may jump back; `utc` is seconds since
1970.  Within a session `number` counts from 1 in the order of publishing, whatever the clocks do.

A person is a pseudonym and nothing else.  Rows of a session are deleted with it.

Takes: nothing.  Gives: SQLAlchemy tables, and `metadata` that contains them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    false,
)

from bridge.store.text_types import PrintableJson, PrintableText

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _text_column(name: str, default: str = "") -> Column[str]:
    return Column(name, PrintableText, nullable=False, default=default, server_default=default)


def _seconds_column(name: str, *, known: bool = True) -> Column[float]:
    return Column(name, Double, nullable=not known)


def _count_column(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False, default=0, server_default="0")


def _number_column(name: str = "number") -> Column[int]:
    return Column(name, Integer, primary_key=True, autoincrement=False)


def _json_column(name: str) -> Column[Any]:
    return Column(name, PrintableJson, nullable=False)


def _session_column() -> Column[str]:
    return Column(
        "session", String(32), ForeignKey("session.id", ondelete="CASCADE"), primary_key=True, nullable=False
    )


def _person_column() -> Column[int | None]:
    return Column("person", Integer, ForeignKey("person.id", ondelete="SET NULL"), nullable=True, index=True)


person = Table(
    "person",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("pseudonym", PrintableText, nullable=False, unique=True),
)

session = Table(
    "session",
    metadata,
    Column("id", String(32), primary_key=True),
    _text_column("device"),
    _text_column("device_title"),
    _text_column("name"),
    _text_column("course"),
    Column("began_utc", Double, nullable=False, index=True),
    _seconds_column("last_utc"),
    _seconds_column("ended_utc", known=False),
    _text_column("ending"),
    _text_column("program"),
    _text_column("pack"),
    _text_column("pack_title"),
    _text_column("pack_version"),
    _text_column("pack_digest"),
    _text_column("trip_title"),
    _json_column("trip"),
    _json_column("inoperative"),
    _json_column("seats"),
    _text_column("recording"),
    _count_column("spool_number"),
)

seating = Table(
    "seating",
    metadata,
    _session_column(),
    _number_column(),
    _text_column("seat"),
    _seconds_column("sim_s"),
    _seconds_column("utc"),
    _person_column(),
)

finding = Table(
    "finding",
    metadata,
    _session_column(),
    _number_column(),
    _text_column("kind"),
    _text_column("item"),
    _text_column("label"),
    _text_column("gate"),
    _text_column("phase"),
    _text_column("seat"),
    _text_column("level"),
    _seconds_column("sim_s"),
    _seconds_column("utc"),
    _text_column("actual"),
    _text_column("wanted"),
    _text_column("sentence"),
    _text_column("why"),
    _seconds_column("lead_s", known=False),
    Column("carried", Boolean, nullable=False),
    _seconds_column("closed_s", known=False),
    _text_column("error_class"),
    _text_column("own_sentence"),
    Column("waived", Boolean, nullable=False, default=False, server_default=false()),
    Column("corrected", Boolean, nullable=False, default=False, server_default=false()),
    _person_column(),
    Index("ix_finding_item", "item"),
)

notice = Table(
    "notice",
    metadata,
    _session_column(),
    _number_column(),
    _seconds_column("sim_s"),
    _seconds_column("utc"),
    _text_column("level"),
    _text_column("seat"),
    _text_column("item"),
    _text_column("gate"),
    _text_column("sentence"),
    _count_column("repeats"),
    _count_column("finding"),
    _text_column("lead_in", "none"),
    _json_column("reasons"),
)

call = Table(
    "call",
    metadata,
    _session_column(),
    _number_column(),
    _seconds_column("sim_s"),
    _seconds_column("utc"),
    _text_column("call"),
    _text_column("title"),
    _text_column("by"),
    _seconds_column("undone_s", known=False),
)

gate_passage = Table(
    "gate_passage",
    metadata,
    _session_column(),
    _number_column(),
    _text_column("gate"),
    _text_column("title"),
    _text_column("phase"),
    _seconds_column("cue_s"),
    _seconds_column("cue_utc"),
    _count_column("open_at_cue"),
    _seconds_column("entered_s", known=False),
    _seconds_column("ready_s", known=False),
    _count_column("carried"),
    _count_column("needs"),
    Column("judged", Integer, nullable=True),
    Index("ix_gate_passage_gate", "gate"),
)

phase = Table(
    "phase",
    metadata,
    _session_column(),
    _number_column(),
    _seconds_column("sim_s"),
    _seconds_column("utc"),
    _text_column("phase"),
    _text_column("title"),
    _text_column("code"),
)

trace = Table(
    "trace",
    metadata,
    _session_column(),
    _number_column(),
    _text_column("trace"),
    _text_column("title"),
    _seconds_column("began_s"),
    _seconds_column("ended_s"),
    _text_column("ending"),
    _json_column("times"),
    _json_column("columns"),
    _json_column("marks"),
    _json_column("limits"),
    _json_column("findings"),
)

flight_time = Table(
    "flight_time",
    metadata,
    _session_column(),
    _number_column("sector"),
    Column("moment", String(3), primary_key=True),
    _seconds_column("at_s"),
    _seconds_column("utc_s", known=False),
    _seconds_column("block_s", known=False),
    _seconds_column("flight_s", known=False),
)

remark = Table(
    "remark",
    metadata,
    _session_column(),
    _number_column(),
    _seconds_column("sim_s"),
    _seconds_column("utc"),
    _text_column("change"),
    _text_column("seat"),
    _text_column("text"),
    _text_column("by"),
)

waiver = Table(
    "waiver",
    metadata,
    _session_column(),
    _number_column(),
    _text_column("item"),
    _text_column("label"),
    _json_column("gates"),
    _seconds_column("from_s"),
    _seconds_column("utc"),
    _text_column("by"),
    _text_column("reason"),
    _seconds_column("to_s", known=False),
    _text_column("undone_by"),
    _text_column("undone_reason"),
)

data_gap = Table(
    "data_gap",
    metadata,
    _session_column(),
    _number_column(),
    _seconds_column("from_s"),
    _seconds_column("to_s"),
    _seconds_column("utc"),
    Column("records", Integer, nullable=True),
)

setting = Table("setting", metadata, Column("key", String(40), primary_key=True), _text_column("value"))

ENDED, BROKEN_OFF = "ended", "broken off"
"""What `session.ending` is after its end; it is '' while the session runs."""

SESSION_TABLES = (
    seating,
    finding,
    notice,
    call,
    gate_passage,
    phase,
    trace,
    flight_time,
    remark,
    waiver,
    data_gap,
)
"""The tables whose rows belong to a session."""

TABLE_MEANINGS: Mapping[str, str] = {
    "person": "Persons, by pseudonym.",
    "session": (
        "Sessions. `ending` is empty while it runs, else `ended` or `broken off`; `spool_number` is the number of the last "
        "spool record that is in the store; `recording` is the name of the recording."
    ),
    "seating": "Who sat in a seat from then on; no person if the seat was emptied.",
    "finding": (
        "Findings. `number` is the finding's own; `person` sat in its seat when it opened; `error_class` as in the debrief."
    ),
    "notice": (
        "Notices to the crew; `finding` is the finding's number, 0 for none. `sentence` is made of `lead_in` and `reasons`."
    ),
    "call": "Calls; `undone_s` is when the call was undone.",
    "gate_passage": (
        "Gates, each from its cue to its entry; `judged` of `needs` could be judged; `ready_s` is since when nothing was open, "
        "empty if something was open."
    ),
    "phase": "Phases that were entered; `code` is that of the CAST/ICAO common taxonomy.",
    "trace": "Traces: quantities over a stretch of flight (engine start, control check, take-off roll, approach).",
    "flight_time": "Out, off, on and in of each sector; `utc_s` is the aeroplane's clock in seconds of the day.",
    "remark": (
        "Remarks (`change` is empty), and changes of the session; `text` is the name, course, person, reason or problem."
    ),
    "waiver": (
        "Waivers: item, who, why, and from when; `gates` are the titles of the gates that need the item; `to_s`, `undone_by` "
        "and `undone_reason` are of its undo, `to_s` is empty without one."
    ),
    "data_gap": (
        "Times for which data were missing while the session was judged, from `from_s` to `to_s`; `utc` is the end of each, "
        "`records` how many records are missing, empty where that is not known."
    ),
    "setting": "Settings of the store: `retention days`, `vacuum pending`.",
}
"""The content of each table, for the documents."""
