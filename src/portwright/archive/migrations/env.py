"""Run the migrations on the connection the archive hands over."""

from __future__ import annotations

from alembic import context

from portwright.archive.tables import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=metadata,
    transactional_ddl=False,  # the archive has begun the transaction already
    render_as_batch=True,
)
context.run_migrations()
