"""The demo cockpit, loaded once a run, and what it computes to."""

import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from sqlmodel import Session

from app.database import migrate, open_engine, open_session
from app.planning.cockpit_result import CockpitResult, compute_cockpit
from app.planning.starter_list import begin_cockpit
from app.seed_demo import load_demo
from app.settings import Settings, program_dir

LOADED_ON = date(2026, 11, 25)


@pytest.fixture(scope="session")
def demo_settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    folder: Path = tmp_path_factory.mktemp("demo") / "cockpit"
    load_demo(folder, LOADED_ON)
    return Settings(folder, is_demo=True)


@pytest.fixture
def demo_session(demo_settings: Settings) -> Iterator[Session]:
    engine = open_engine(demo_settings.database_path)
    with open_session(engine) as session:
        yield session
    engine.dispose()


@pytest.fixture(scope="session")
def demo_result(demo_settings: Settings) -> CockpitResult:
    engine = open_engine(demo_settings.database_path)
    with open_session(engine) as session:
        result = compute_cockpit(session)
    engine.dispose()
    return result


@pytest.fixture(scope="session")
def begun_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cockpit just begun, made once and copied for each test."""
    path = tmp_path_factory.mktemp("begun") / "cockpit.sqlite3"
    migrate(path, program_dir() / "migrations")
    engine = open_engine(path)
    begin_cockpit(engine, today=LOADED_ON)
    engine.dispose()
    return path


@pytest.fixture
def empty_session(tmp_path: Path, begun_file: Path) -> Iterator[Session]:
    """A cockpit just begun: the starter list and nothing else."""
    path = tmp_path / "cockpit.sqlite3"
    shutil.copy(begun_file, path)
    engine = open_engine(path)
    with open_session(engine) as session:
        yield session
    engine.dispose()
