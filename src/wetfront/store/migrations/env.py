"""Run by Alembic: the connection comes from `database.opened`, never from a file."""

from alembic import context

from wetfront.store.tables import METADATA

context.configure(connection=context.config.attributes["connection"], target_metadata=METADATA)
context.run_migrations()
