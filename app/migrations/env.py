"""Alembic's entry: runs the migrations on the database file that `database.migrate` names."""

from alembic import context
from sqlmodel import SQLModel, create_engine

import app.tables  # noqa: F401 - fills SQLModel.metadata

engine = create_engine(f"sqlite:///{context.config.attributes['database_path']}")
with engine.connect() as connection:
    context.configure(connection=connection, target_metadata=SQLModel.metadata, render_as_batch=True)
    with context.begin_transaction():
        context.run_migrations()
engine.dispose()
