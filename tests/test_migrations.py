"""The migrations against the tables in code, and what happens to an old, a newer and a foreign file."""

import logging
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Engine
from sqlalchemy.exc import OperationalError
from sqlmodel import Session, SQLModel, select

import app.tables  # noqa: F401  # fills SQLModel.metadata
from app.database import DatabaseRefused, migrate, open_engine
from app.planning.starter_list import begin_cockpit
from app.settings import program_dir
from app.tables import Cockpit, Component, Printer

MIGRATIONS = program_dir() / "migrations"
NEXT = '''"""a further column, and then {what}

Revision ID: next1
Revises: {head}
"""
import sqlalchemy as sa
from alembic import op

revision = "next1"
down_revision = "{head}"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("panels", sa.Column("material", sa.String(), nullable=False, server_default=""))
    {further}
'''


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "cockpit.sqlite3"


def migrated(path: Path) -> Engine:
    migrate(path, MIGRATIONS)
    return open_engine(path)


def asked(path: Path, statement: str) -> list[Any]:
    """The rows of a bare query."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(statement).fetchall()


def told(path: Path, statement: str) -> None:
    """A bare statement, kept."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(statement)
        connection.commit()


def revision_of(path: Path) -> str:
    return str(asked(path, "SELECT version_num FROM alembic_version")[0][0])


@pytest.fixture
def later_migrations(tmp_path: Path) -> Iterator[tuple[Path, Path]]:
    """A program one migration further on, and the file of that migration; its links are to the real ones."""
    folder = tmp_path / "migrations"
    (folder / "versions").mkdir(parents=True)
    for real in [MIGRATIONS / "env.py", *(MIGRATIONS / "versions").glob("*.py")]:
        (folder / real.relative_to(MIGRATIONS)).write_text(real.read_text("utf-8"), encoding="utf-8")
    yield folder, folder / "versions" / "next.py"
    logging.getLogger("alembic").handlers.clear()


def test_the_migrated_tables_are_the_tables_in_code(path: Path) -> None:
    engine = migrated(path)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, SQLModel.metadata) == []
    engine.dispose()


def test_the_migrated_tables_have_the_foreign_keys_and_unique_columns_in_code(
    path: Path, tmp_path: Path
) -> None:
    """The comparison above does not see every constraint of SQLite; its own catalogue does."""
    migrate(path, MIGRATIONS)
    in_code = tmp_path / "in_code.sqlite3"
    engine = open_engine(in_code)
    SQLModel.metadata.create_all(engine)
    engine.dispose()
    for name in SQLModel.metadata.tables:
        for pragma in ("table_info", "foreign_key_list", "index_list"):
            statement = f"SELECT * FROM pragma_{pragma}('{name}')"  # noqa: S608  # our own names
            assert _unordered(path, statement) == _unordered(in_code, statement), (name, pragma)


def _unordered(path: Path, statement: str) -> set[tuple[Any, ...]]:
    return {row[1:] for row in asked(path, statement)}  # the first column is a place in the list


def test_a_new_file_is_made_with_its_folder_and_nothing_is_copied(tmp_path: Path) -> None:
    path = tmp_path / "in" / "a folder with ? and %" / "cockpit.sqlite3"
    assert migrate(path, MIGRATIONS) is None
    assert [each.name for each in path.parent.iterdir()] == ["cockpit.sqlite3"]


def test_a_file_that_is_up_to_date_is_left_alone(path: Path) -> None:
    migrate(path, MIGRATIONS)
    before = path.read_bytes()
    assert migrate(path, MIGRATIONS) is None
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


def test_an_old_file_is_copied_whole_before_it_is_migrated(
    path: Path, later_migrations: tuple[Path, Path]
) -> None:
    engine = migrated(path)
    begin_cockpit(engine, name="Kept")
    engine.dispose()
    old = revision_of(path)
    folder, further = later_migrations
    further.write_text(NEXT.format(what="nothing", head=old, further=""), encoding="utf-8")
    copy = migrate(path, folder)
    assert revision_of(path) == "next1"
    assert "material" in [row[1] for row in asked(path, "PRAGMA table_info(panels)")]
    assert asked(path, "SELECT name FROM cockpit") == [("Kept",)]
    assert copy is not None
    assert revision_of(copy) == old
    assert asked(copy, "SELECT name FROM cockpit") == [("Kept",)]
    assert "material" not in [row[1] for row in asked(copy, "PRAGMA table_info(panels)")]
    # The older program opens the copy.
    engine = migrated(copy)
    with Session(engine) as session:
        assert session.exec(select(Component)).first() is not None
    engine.dispose()


def test_the_copy_holds_what_was_still_in_the_write_ahead_log(
    path: Path, later_migrations: tuple[Path, Path]
) -> None:
    engine = migrated(path)
    begin_cockpit(engine, name="Kept")
    old = revision_of(path)
    folder, further = later_migrations
    further.write_text(NEXT.format(what="nothing", head=old, further=""), encoding="utf-8")
    with engine.connect() as watching:
        watching.exec_driver_sql("UPDATE cockpit SET name = 'In the log'")
        watching.commit()
        assert path.with_name(f"{path.name}-wal").stat().st_size > 0
        copy = migrate(path, folder)
    engine.dispose()
    assert copy is not None
    assert asked(copy, "SELECT name FROM cockpit") == [("In the log",)]


def test_an_earlier_copy_is_not_overwritten(path: Path, later_migrations: tuple[Path, Path]) -> None:
    migrate(path, MIGRATIONS)
    old = revision_of(path)
    earlier = path.with_name(f"cockpit-before-{old}.sqlite3")
    earlier.write_bytes(b"an earlier copy")
    folder, further = later_migrations
    further.write_text(NEXT.format(what="nothing", head=old, further=""), encoding="utf-8")
    assert migrate(path, folder) == earlier
    kept = [each for each in path.parent.glob("*.sqlite3") if each.read_bytes() == b"an earlier copy"]
    assert len(kept) == 1


def test_a_migration_that_fails_half_way_leaves_the_file_as_it_was(
    path: Path, later_migrations: tuple[Path, Path]
) -> None:
    migrate(path, MIGRATIONS)
    old = revision_of(path)
    tables = asked(path, "SELECT sql FROM sqlite_master ORDER BY name")
    folder, further = later_migrations
    fails = 'op.execute("INSERT INTO no_such_table VALUES (1)")'
    further.write_text(NEXT.format(what="a fault", head=old, further=fails), encoding="utf-8")
    with pytest.raises(OperationalError, match="no_such_table"):
        migrate(path, folder)
    assert revision_of(path) == old
    assert asked(path, "SELECT sql FROM sqlite_master ORDER BY name") == tables


def test_a_file_of_a_newer_program_is_refused_and_left_alone(path: Path) -> None:
    migrate(path, MIGRATIONS)
    told(path, "UPDATE alembic_version SET version_num = '9f00'")
    before = path.read_bytes()
    with pytest.raises(DatabaseRefused, match=r"written by a newer Coaming \(tables 9f00\)") as refused:
        migrate(path, MIGRATIONS)
    assert str(path) in str(refused.value)
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize("table", ["notes", "alembic_version"])
def test_a_database_of_another_program_is_refused_and_left_alone(path: Path, table: str) -> None:
    told(path, f"CREATE TABLE {table} (version_num)")
    before = path.read_bytes()
    with pytest.raises(DatabaseRefused, match="a database, but not a cockpit's"):
        migrate(path, MIGRATIONS)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "content",
    [b"Dear builder,\n" * 200, b"SQLite format 3\x00" + bytes(range(256)) * 40],
    ids=["text", "a damaged database"],
)
def test_a_file_that_is_no_database_is_refused_with_its_name(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    with pytest.raises(DatabaseRefused, match="cannot be read as a database") as refused:
        migrate(path, MIGRATIONS)
    assert str(path) in str(refused.value)
    assert path.read_bytes() == content


def test_a_cockpit_is_begun_once(path: Path) -> None:
    engine = migrated(path)
    begin_cockpit(engine, name="First")
    begin_cockpit(engine, name="Second")
    with Session(engine) as session:
        assert [row.name for row in session.exec(select(Cockpit)).all()] == ["First"]
        assert len(session.exec(select(Printer)).all()) == 1
    engine.dispose()
