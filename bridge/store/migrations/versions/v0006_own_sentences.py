"""Adds the sentence of a pack's own to a finding; it is empty for the findings so far.

Takes: the tables of revision 0005.  Gives: one more column.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Add the column."""
    op.add_column("finding", sa.Column("own_sentence", sa.Text, nullable=False, server_default=""))


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
