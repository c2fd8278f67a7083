"""The tables of the store, as the newest migration leaves them.

Times: `sim_s` and the like are seconds of the simulator's clock, which may jump back; `utc` is seconds since 1970.  Within
a session `number` counts from 1 in the order of the telling, whatever the clocks say.

A person is a pseudonym and nothing else.  What belongs to a session goes with it.

Takes: nothing.  Gives: SQLAlchemy tables, and `metadata` that holds them.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _text_column(name: str) -> Column[str]:
    return Column(name, Text, nullable=False, default="", server_default="")


def _seconds_column(name: str, *, known: bool = True) -> Column[float]:
    return Column(name, Double, nullable=not known)


def _count_column(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False, default=0, server_default="0")


def _number_column(name: str = "number") -> Column[int]:
    return Column(name, Integer, primary_key=True, autoincrement=False)


def _json_column(name: str) -> Column[Any]:
    return Column(name, JSON, nullable=False)


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
    Column("pseudonym", Text, nullable=False, unique=True),
)
"""Who sat somewhere, by pseudonym."""

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
"""`ending` is '' while it runs, else 'ended' or 'broken off'; `spool_number` is that of the last spool record that is in the store."""

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
"""Who sat in a seat from then on; no person where nobody is named."""

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
    _person_column(),
    Index("ix_finding_item", "item"),
)
"""`number` is the finding's own; `person` sat in its seat when it opened."""

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
)
"""What was told to the crew; `finding` is the finding's number, 0 for none."""

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
"""What was said and no signal shows; `undone_s` is when it was taken back."""

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
    Index("ix_gate_passage_gate", "gate"),
)
"""A gate from its cue to its entry, as `bridge.session.gate_stats.Passage` has it."""

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
"""A phase that was entered; `code` is the CAST/ICAO common taxonomy's."""

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
"""Quantities over a stretch of flight: a start, a control check, a take-off roll, an approach."""

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
"""Out, off, on and in of each sector; `utc_s` is the aeroplane's clock in seconds of the day."""

remark = Table(
    "remark",
    metadata,
    _session_column(),
    _number_column(),
    _seconds_column("sim_s"),
    _seconds_column("utc"),
    _text_column("change"),
    _text_column("text"),
    _text_column("by"),
)
"""A remark (`change` is ''), or what happened to the session."""

setting = Table("setting", metadata, Column("key", String(40), primary_key=True), _text_column("value"))
"""What the store itself is told, such as for how long sessions are kept."""

SESSION_TABLES = (seating, finding, notice, call, gate_passage, phase, trace, flight_time, remark)
"""The tables whose rows belong to a session."""
