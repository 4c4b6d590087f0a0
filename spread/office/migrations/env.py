"""Runs the steps on the connection that ``spread.office.connecting`` gives."""

from alembic import context

from spread.office.tables import metadata

context.configure(
    connection=context.config.attributes["connection"], target_metadata=metadata, render_as_batch=True
)
with context.begin_transaction():
    context.run_migrations()
