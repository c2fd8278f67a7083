"""Adds the table of waivers, and to findings whether a waiver closed them; both are unknown for the sessions so far.

Takes: the tables of revision 0007.  Gives: one more table, and one more column.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Create the table, and add the column."""
    op.create_table(
        "waiver",
        sa.Column(
            "session",
            sa.String(32),
            sa.ForeignKey("session.id", name="fk_waiver_session", ondelete="CASCADE"),
            nullable=False,
        ),
        sa.Column("number", sa.Integer, autoincrement=False, nullable=False),
        *_text_columns("item", "label"),
        sa.Column("gates", sa.JSON, nullable=False),
        sa.Column("from_s", sa.Double, nullable=False),
        sa.Column("utc", sa.Double, nullable=False),
        *_text_columns("by", "reason"),
        sa.Column("to_s", sa.Double, nullable=True),
        *_text_columns("undone_by", "undone_reason"),
        sa.PrimaryKeyConstraint("session", "number", name="pk_waiver"),
    )
    op.add_column("finding", sa.Column("waived", sa.Boolean, nullable=False, server_default=sa.false()))


def _text_columns(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text, nullable=False, server_default="") for name in names]


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
