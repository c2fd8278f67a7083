"""Creates the first tables.

Takes: an empty database.  Gives: the tables of sessions and their rows.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def _seconds(name: str, *, known: bool = True) -> sa.Column[float]:
    return sa.Column(name, sa.Double, nullable=not known)


def _count(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False, server_default="0")


def _json(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.JSON, nullable=False)


def _person() -> sa.Column[int | None]:
    return sa.Column("person", sa.Integer, nullable=True)


def _of_session(name: str, *columns: sa.Column[Any], keys: tuple[str, ...] = ("number",)) -> None:
    """Create a table whose rows are deleted with their session."""
    persons = [
        sa.ForeignKeyConstraint(["person"], ["person.id"], ondelete="SET NULL", name=f"fk_{name}_person")
        for column in columns
        if column.name == "person"
    ]
    op.create_table(
        name,
        sa.Column("session", sa.String(32), nullable=False),
        *columns,
        sa.ForeignKeyConstraint(["session"], ["session.id"], ondelete="CASCADE", name=f"fk_{name}_session"),
        sa.PrimaryKeyConstraint("session", *keys, name=f"pk_{name}"),
        *persons,
    )
    if persons:
        op.create_index(f"ix_{name}_person", name, ["person"])


def _number(name: str = "number") -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=False, autoincrement=False)


def upgrade() -> None:
    """Create the tables."""
    op.create_table(
        "person",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("pseudonym", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_person"),
        sa.UniqueConstraint("pseudonym", name="uq_person_pseudonym"),
    )
    op.create_table(
        "session",
        sa.Column("id", sa.String(32), nullable=False),
        _text("device"),
        _text("device_title"),
        _text("name"),
        sa.Column("began_utc", sa.Double, nullable=False),
        _seconds("last_utc"),
        _seconds("ended_utc", known=False),
        _text("ending"),
        _text("program"),
        _text("pack"),
        _text("pack_title"),
        _text("pack_version"),
        _text("pack_digest"),
        _text("trip_title"),
        _json("trip"),
        _json("inoperative"),
        _json("seats"),
        _text("recording"),
        _count("spool_number"),
        sa.PrimaryKeyConstraint("id", name="pk_session"),
    )
    op.create_index("ix_session_began_utc", "session", ["began_utc"])
    op.create_table(
        "setting",
        sa.Column("key", sa.String(40), nullable=False),
        _text("value"),
        sa.PrimaryKeyConstraint("key", name="pk_setting"),
    )
    _crew()
    _flight()


def _crew() -> None:
    """Create the tables of persons' seats, findings, notices, calls and remarks."""
    _of_session("seating", _number(), _text("seat"), _seconds("sim_s"), _seconds("utc"), _person())
    words = ("kind", "item", "label", "gate", "phase", "seat", "level")
    evidence = ("actual", "wanted", "sentence", "why")
    _of_session(
        "finding",
        _number(),
        *(_text(name) for name in words),
        _seconds("sim_s"),
        _seconds("utc"),
        *(_text(name) for name in evidence),
        _seconds("lead_s", known=False),
        sa.Column("carried", sa.Boolean, nullable=False),
        _seconds("closed_s", known=False),
        _person(),
    )
    op.create_index("ix_finding_item", "finding", ["item"])
    _of_session(
        "notice",
        _number(),
        _seconds("sim_s"),
        _seconds("utc"),
        *(_text(name) for name in ("level", "seat", "item", "gate", "sentence")),
        _count("repeats"),
        _count("finding"),
    )
    _of_session(
        "call",
        _number(),
        _seconds("sim_s"),
        _seconds("utc"),
        *(_text(name) for name in ("call", "title", "by")),
        _seconds("undone_s", known=False),
    )
    _of_session(
        "remark",
        _number(),
        _seconds("sim_s"),
        _seconds("utc"),
        *(_text(name) for name in ("change", "text", "by")),
    )


def _flight() -> None:
    """Create the tables of gates, phases, traces and flight times."""
    _of_session(
        "gate_passage",
        _number(),
        *(_text(name) for name in ("gate", "title", "phase")),
        _seconds("cue_s"),
        _seconds("cue_utc"),
        _count("open_at_cue"),
        _seconds("entered_s", known=False),
        _seconds("ready_s", known=False),
        _count("carried"),
        _count("needs"),
    )
    op.create_index("ix_gate_passage_gate", "gate_passage", ["gate"])
    _of_session(
        "phase",
        _number(),
        _seconds("sim_s"),
        _seconds("utc"),
        *(_text(name) for name in ("phase", "title", "code")),
    )
    _of_session(
        "trace",
        _number(),
        _text("trace"),
        _text("title"),
        _seconds("began_s"),
        _seconds("ended_s"),
        _text("ending"),
        *(_json(name) for name in ("times", "columns", "marks", "limits", "findings")),
    )
    _of_session(
        "flight_time",
        _number("sector"),
        sa.Column("moment", sa.String(3), nullable=False),
        _seconds("at_s"),
        _seconds("utc_s", known=False),
        _seconds("block_s", known=False),
        _seconds("flight_s", known=False),
        keys=("sector", "moment"),
    )


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
