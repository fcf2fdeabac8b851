"""What Alembic runs to migrate: on the connection that it is given, in that connection's transaction."""
from __future__ import annotations

from alembic import context

from storage.tables import metadata

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=metadata, transactional_ddl=True)
with context.begin_transaction():
    context.run_migrations()
