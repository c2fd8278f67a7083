"""Adds the course of a session and the error class of a finding.

Existing findings are classified by their kind alone, since their pack may not be installed here.

Takes: the tables of revision 0001.  Gives: two more columns.
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
    """Add the columns."""
    op.add_column("session", sa.Column("course", sa.Text, nullable=False, server_default=""))
    op.add_column("finding", sa.Column("error_class", sa.Text, nullable=False, server_default=""))
    finding = sa.table("finding", sa.column("kind", sa.Text), sa.column("error_class", sa.Text))
    by_kind = sa.case(BY_KIND, value=finding.c.kind, else_="procedural error")
    op.execute(finding.update().values(error_class=by_kind))


def downgrade() -> None:
    """Refuse: a store is copied before it is changed by hand."""
    raise NotImplementedError
