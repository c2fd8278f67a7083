"""Runs the revisions on the connection that `bridge.store.database` passes.

Takes: a connection.  Gives: tables.
"""

from __future__ import annotations

from alembic import context

from bridge.store.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transaction_per_migration=False,
)
context.run_migrations()
