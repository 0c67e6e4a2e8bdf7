"""The cockpit's SQLite file: opening it, and bringing it up to this program's tables."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Engine, event
from sqlmodel import Session, create_engine


class DatabaseRefused(Exception):
    """The data folder holds a file that this program cannot use; the message says which and why."""


def open_engine(database_path: Path) -> Engine:
    """An engine on the file, in WAL mode with foreign keys on; each session has a connection of its own."""
    engine = create_engine(
        URL.create("sqlite", database=str(database_path)),
        connect_args={"check_same_thread": False, "timeout": 15},
    )
    event.listen(engine, "connect", _prepare_connection)
    return engine


def _prepare_connection(connection: Any, _record: Any) -> None:
    cursor = connection.cursor()
    for pragma in ("journal_mode=WAL", "foreign_keys=ON", "synchronous=NORMAL", "cache_size=-16000"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def open_to_read(database_path: Path) -> sqlite3.Connection:
    """A bare connection that writes nothing and leaves nothing beside the file; a folder may be read-only.

    Without a log beside it no program has the file open, and it can be read as it lies.
    """
    log = database_path.with_name(f"{database_path.name}-wal")
    how = "mode=ro" if log.exists() else "mode=ro&immutable=1"
    return sqlite3.connect(f"{database_path.absolute().as_uri()}?{how}", uri=True)


@contextmanager
def open_session(engine: Engine) -> Iterator[Session]:
    """A session for one request; what is not committed is rolled back."""
    with Session(engine) as session:
        yield session


def migrate(database_path: Path, migrations_dir: Path) -> Path | None:
    """Bring the file's tables up to date, after a copy of the old file.

    Returns:
        The path of the copy, or None where there was nothing to change or nothing to copy.

    Raises:
        DatabaseRefused: the file is not a cockpit's, or was written by a newer program.
    """
    database_path.parent.mkdir(parents=True, exist_ok=True)
    at_hand = _revision_of(database_path) if database_path.exists() else None
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(migrations_dir).replace("%", "%%"))
    config.attributes["database_path"] = database_path
    script = ScriptDirectory.from_config(config)
    head = script.get_current_head()
    if at_hand == head:
        return None
    known = {revision.revision for revision in script.walk_revisions()}
    if at_hand is not None and at_hand not in known:
        raise DatabaseRefused(
            f"{database_path} was written by a newer Coaming (tables {at_hand}); "
            "install that version again, or name another folder with --data"
        )
    copy = _copy_before_migration(database_path, at_hand) if at_hand is not None else None
    command.upgrade(config, "head")
    return copy


def _revision_of(database_path: Path) -> str | None:
    try:
        with closing(sqlite3.connect(database_path)) as connection:
            names = {
                row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type='table'")
            }
            if not names:
                return None
            if not {"alembic_version", "cockpit"} <= names:
                raise DatabaseRefused(
                    f"{database_path} is a database, but not a cockpit's; name another folder with --data"
                )
            row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
            return str(row[0]) if row else None
    except sqlite3.DatabaseError as error:
        raise DatabaseRefused(
            f"{database_path} cannot be read as a database ({error}); name another folder with --data"
        ) from error


def _copy_before_migration(database_path: Path, revision: str) -> Path:
    """Copy the file whole, its write-ahead log folded in, so that an older program can still open it."""
    copy = database_path.with_name(f"{database_path.stem}-before-{revision}.sqlite3")
    if copy.exists():
        shutil.move(copy, copy.with_suffix(".older.sqlite3"))
    with (
        closing(sqlite3.connect(database_path)) as source,
        closing(sqlite3.connect(copy)) as target,
    ):
        source.backup(target)
    return copy
