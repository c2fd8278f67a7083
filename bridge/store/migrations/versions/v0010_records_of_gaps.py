"""Adds to each gap in the data how many records are missing; it is not known for the gaps so far.

Takes: the tables of revision 0009.  Gives: one more column.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    """Add the column."""
    op.add_column("data_gap", sa.Column("records", sa.Integer, nullable=True))


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
