"""Alembic's entry: runs the migrations on the database file that `database.migrate` names, all of them or none."""

from typing import Any

from alembic import context
from sqlalchemy import URL, event
from sqlmodel import SQLModel, create_engine

import app.tables  # noqa: F401 - fills SQLModel.metadata

engine = create_engine(URL.create("sqlite", database=str(context.config.attributes["database_path"])))


@event.listens_for(engine, "connect")
def _leave_transactions_to_us(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # the driver would begin none before a table is made


@event.listens_for(engine, "begin")
def _begin(connection: Any) -> None:
    connection.exec_driver_sql("BEGIN IMMEDIATE")


with engine.connect() as connection:
    context.configure(
        connection=connection,
        target_metadata=SQLModel.metadata,
        render_as_batch=True,
        transactional_ddl=True,
    )
    with context.begin_transaction():
        context.run_migrations()
engine.dispose()
