"""Adds the parts of a notice: its lead-in, and why each finding is open.

An existing notice has its sentence alone.

Takes: the tables of revision 0003.  Gives: two more columns.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the columns."""
    op.add_column("notice", sa.Column("lead_in", sa.Text, nullable=False, server_default="none"))
    op.add_column("notice", sa.Column("reasons", sa.JSON, nullable=False, server_default="[]"))


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
