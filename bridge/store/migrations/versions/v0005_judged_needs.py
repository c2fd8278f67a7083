"""Adds how many needs of a gate could be judged; it is empty for the passages so far.

Takes: the tables of revision 0004.  Gives: one more column.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add the column."""
    op.add_column("gate_passage", sa.Column("judged", sa.Integer, nullable=True))


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
