"""Adds the table of the times for which data were missing; it is empty for the sessions so far.

Takes: the tables of revision 0006.  Gives: one more table.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Create the table."""
    op.create_table(
        "data_gap",
        sa.Column(
            "session",
            sa.String(32),
            sa.ForeignKey("session.id", name="fk_data_gap_session", ondelete="CASCADE"),
            nullable=False,
        ),
        sa.Column("number", sa.Integer, autoincrement=False, nullable=False),
        *(sa.Column(name, sa.Double, nullable=False) for name in ("from_s", "to_s", "utc")),
        sa.PrimaryKeyConstraint("session", "number", name="pk_data_gap"),
    )


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
