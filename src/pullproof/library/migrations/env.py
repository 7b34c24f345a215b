"""How Alembic reaches the database: over the connection that `opening.upgrade` hands it, in that one's transaction."""

from alembic import context

from pullproof.library.schema import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,  # SQLite alters a table by copying it
    transactional_ddl=True,
)
context.run_migrations()
