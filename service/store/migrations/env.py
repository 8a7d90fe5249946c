"""Runs the migrations on the connection that ``service.store.database.migrate`` hands over."""

from alembic import context

from service.store.models import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
    transactional_ddl=False,  # the caller's transaction holds it all
)
context.run_migrations()
