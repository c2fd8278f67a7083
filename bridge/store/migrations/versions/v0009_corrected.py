"""Adds to findings whether they were corrected; of those so far the closed ones count as corrected.

Takes: the tables of revision 0008.  Gives: one more column.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Add the column."""
    op.add_column("finding", sa.Column("corrected", sa.Boolean, nullable=False, server_default=sa.false()))
    finding = sa.table("finding", sa.column("corrected", sa.Boolean), sa.column("closed_s", sa.Double))
    op.execute(finding.update().where(finding.c.closed_s.is_not(None)).values(corrected=True))


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
