"""Sessions belong to a course; findings have their class in threat and error management.

What was found before is sorted by its kind alone, since the pack that it was judged by may not be here.

Takes: tables of 0001.  Gives: two more columns.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

BY_KIND = {
    "omitted": "procedural error",
    "undone": "procedural error",
    "late": "procedural error",
    "too_early": "procedural error",
    "out_of_order": "procedural error",
    "wrong_value": "aircraft handling error",
    "limit_exceeded": "undesired aircraft state",
    "not_verifiable": "not verifiable",
}


def upgrade() -> None:
    """Add them."""
    op.add_column("session", sa.Column("course", sa.Text, nullable=False, server_default=""))
    op.add_column("finding", sa.Column("error_class", sa.Text, nullable=False, server_default=""))
    finding = sa.table("finding", sa.column("kind", sa.Text), sa.column("error_class", sa.Text))
    sorted_as = sa.case(BY_KIND, value=finding.c.kind, else_="procedural error")
    op.execute(finding.update().values(error_class=sorted_as))


def downgrade() -> None:
    """There is no way back: a store is copied before it is changed by hand."""
    raise NotImplementedError
