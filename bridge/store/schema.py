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


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False, default="", server_default="")


def _seconds(name: str, *, known: bool = True) -> Column[float]:
    return Column(name, Double, nullable=not known)


def _count(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False, default=0, server_default="0")


def _number(name: str = "number") -> Column[int]:
    return Column(name, Integer, primary_key=True, autoincrement=False)


def _json(name: str) -> Column[Any]:
    return Column(name, JSON, nullable=False)


def _session() -> Column[str]:
    return Column(
        "session", String(32), ForeignKey("session.id", ondelete="CASCADE"), primary_key=True, nullable=False
    )


def _person() -> Column[int | None]:
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
    _text("device"),
    _text("device_title"),
    _text("name"),
    _text("course"),
    Column("began_utc", Double, nullable=False, index=True),
    _seconds("last_utc"),
    _seconds("ended_utc", known=False),
    _text("ending"),
    _text("program"),
    _text("pack"),
    _text("pack_title"),
    _text("pack_version"),
    _text("pack_digest"),
    _text("papers_title"),
    _json("papers"),
    _json("inoperative"),
    _json("seats"),
    _text("recording"),
    _count("told"),
)
"""`ending` is '' while it runs, else 'ended' or 'broken off'; `told` is the number of the last line of its spool that is in here."""

seating = Table(
    "seating",
    metadata,
    _session(),
    _number(),
    _text("seat"),
    _seconds("sim_s"),
    _seconds("utc"),
    _person(),
)
"""Who sat in a seat from then on; no person where nobody is named."""

finding = Table(
    "finding",
    metadata,
    _session(),
    _number(),
    _text("kind"),
    _text("item"),
    _text("label"),
    _text("gate"),
    _text("phase"),
    _text("seat"),
    _text("level"),
    _seconds("sim_s"),
    _seconds("utc"),
    _text("actual"),
    _text("wanted"),
    _text("sentence"),
    _text("why"),
    _seconds("lead_s", known=False),
    Column("carried", Boolean, nullable=False),
    _seconds("closed_s", known=False),
    _text("error_class"),
    _person(),
    Index("ix_finding_item", "item"),
)
"""`number` is the finding's own; `person` sat in its seat when it opened."""

notice = Table(
    "notice",
    metadata,
    _session(),
    _number(),
    _seconds("sim_s"),
    _seconds("utc"),
    _text("level"),
    _text("seat"),
    _text("item"),
    _text("gate"),
    _text("sentence"),
    _count("repeats"),
    _count("finding"),
)
"""What was told to the crew; `finding` is the finding's number, 0 for none."""

call = Table(
    "call",
    metadata,
    _session(),
    _number(),
    _seconds("sim_s"),
    _seconds("utc"),
    _text("call"),
    _text("title"),
    _text("by"),
    _seconds("retracted_s", known=False),
)
"""What was said and no signal shows; `retracted_s` is when it was taken back."""

passage = Table(
    "passage",
    metadata,
    _session(),
    _number(),
    _text("gate"),
    _text("title"),
    _text("phase"),
    _seconds("cue_s"),
    _seconds("cue_utc"),
    _count("open_at_cue"),
    _seconds("entered_s", known=False),
    _seconds("ready_s", known=False),
    _count("carried"),
    _count("needs"),
    Index("ix_passage_gate", "gate"),
)
"""A gate from its cue to its entry, as `bridge.passages.Passage` has it."""

phase = Table(
    "phase",
    metadata,
    _session(),
    _number(),
    _seconds("sim_s"),
    _seconds("utc"),
    _text("phase"),
    _text("title"),
    _text("code"),
)
"""A phase that was entered; `code` is the CAST/ICAO common taxonomy's."""

strip = Table(
    "strip",
    metadata,
    _session(),
    _number(),
    _text("strip"),
    _text("title"),
    _seconds("began_s"),
    _seconds("ended_s"),
    _text("ending"),
    _json("times"),
    _json("columns"),
    _json("marks"),
    _json("limits"),
    _json("findings"),
)
"""Quantities over a stretch of flight: a start, a control check, a take-off roll, an approach."""

flight_time = Table(
    "flight_time",
    metadata,
    _session(),
    _number("sector"),
    Column("moment", String(3), primary_key=True),
    _seconds("at_s"),
    _seconds("utc_s", known=False),
    _seconds("block_s", known=False),
    _seconds("flight_s", known=False),
)
"""Out, off, on and in of each sector; `utc_s` is the aeroplane's clock in seconds of the day."""

remark = Table(
    "remark",
    metadata,
    _session(),
    _number(),
    _seconds("sim_s"),
    _seconds("utc"),
    _text("change"),
    _text("text"),
    _text("by"),
)
"""A remark (`change` is ''), or what happened to the session."""

setting = Table("setting", metadata, Column("key", String(40), primary_key=True), _text("value"))
"""What the store itself is told, such as for how long sessions are kept."""

OF_SESSION = (seating, finding, notice, call, passage, phase, strip, flight_time, remark)
"""The tables whose rows belong to a session."""
