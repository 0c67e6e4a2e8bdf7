"""How the cockpit's file is opened: write-ahead log, foreign keys, one connection a session, and many at once."""

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import Engine
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from app.database import migrate, open_engine, open_session, open_to_read
from app.settings import program_dir
from app.tables import Function, Panel


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "cockpit.sqlite3"


@pytest.fixture
def engine(path: Path) -> Iterator[Engine]:
    migrate(path, program_dir() / "migrations")
    engine = open_engine(path)
    yield engine
    engine.dispose()


@pytest.mark.parametrize(
    # SQLite's documentation of its pragmas: synchronous 1 is NORMAL.
    ("pragma", "value"),
    [("journal_mode", "wal"), ("foreign_keys", 1), ("synchronous", 1), ("busy_timeout", 15_000)],
)
def test_every_connection_is_prepared(engine: Engine, pragma: str, value: object) -> None:
    with engine.connect() as first, engine.connect() as second:
        for connection in (first, second):
            assert connection.exec_driver_sql(f"PRAGMA {pragma}").scalar_one() == value


def test_a_row_that_names_one_that_is_not_there_is_refused(engine: Engine) -> None:
    with open_session(engine) as session:
        session.add(Function(code="F001", panel_id=99, name="Lamp", kind="light"))
        with pytest.raises(IntegrityError, match="FOREIGN KEY"):
            session.commit()


def test_what_is_not_committed_is_rolled_back(engine: Engine) -> None:
    with open_session(engine) as session:
        session.add(Panel(code="P01", name="Panel"))
        session.flush()
    with open_session(engine) as session:
        assert session.exec(select(Panel)).all() == []


def test_a_reader_sees_what_was_kept_while_another_tab_is_writing(engine: Engine) -> None:
    with open_session(engine) as writer, open_session(engine) as reader:
        writer.add(Panel(code="P01", name="Panel"))
        writer.flush()
        assert reader.exec(select(Panel)).all() == []
        writer.commit()
        reader.rollback()
        assert [panel.code for panel in reader.exec(select(Panel)).all()] == ["P01"]


def test_eight_writers_at_once_all_get_through(engine: Engine) -> None:
    troubles: list[BaseException] = []

    def write(number: int) -> None:
        try:
            for turn in range(10):
                with open_session(engine) as session:
                    session.add(Panel(code=f"P{number}-{turn}", name="Panel"))
                    session.commit()
        except BaseException as error:
            troubles.append(error)

    writers = [threading.Thread(target=write, args=(number,)) for number in range(8)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert troubles == []
    with open_session(engine) as session:
        assert len(session.exec(select(Panel.id)).all()) == 80


def test_opened_to_read_nothing_can_be_written_and_nothing_is_left_behind(path: Path) -> None:
    migrate(path, program_dir() / "migrations")
    open_engine(path).connect().close()
    before = {each.name: each.read_bytes() for each in path.parent.iterdir()}
    with closing(open_to_read(path)) as connection:
        assert connection.execute("SELECT count(*) FROM panels").fetchone() == (0,)
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            connection.execute("DELETE FROM panels")
    assert {each.name: each.read_bytes() for each in path.parent.iterdir()} == before


def test_opened_to_read_a_file_that_is_not_there_is_not_made(path: Path) -> None:
    with pytest.raises(sqlite3.OperationalError):
        open_to_read(path).execute("SELECT 1 FROM sqlite_master")
    assert not path.exists()
