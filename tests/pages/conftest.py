"""A fresh empty cockpit for each test: its pages through `client`, its rows through `session`."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.database import migrate, open_engine
from app.main import build_app
from app.planning.starter_list import begin_cockpit
from app.settings import Settings, program_dir


@pytest.fixture(scope="session")
def begun_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cockpit just begun, made once and copied for each test."""
    path = tmp_path_factory.mktemp("begun") / "cockpit.sqlite3"
    migrate(path, program_dir() / "migrations")
    engine = open_engine(path)
    begin_cockpit(engine)
    engine.dispose()
    return path


@pytest.fixture
def settings(tmp_path: Path, begun_file: Path) -> Settings:
    settings = Settings(tmp_path)
    shutil.copy(begun_file, settings.database_path)
    return settings


@pytest.fixture
def client(settings: Settings) -> Iterator[TestClient]:
    with TestClient(build_app(settings), base_url="http://127.0.0.1") as client:
        yield client


@pytest.fixture
def session(client: TestClient, settings: Settings) -> Iterator[Session]:
    engine = open_engine(settings.database_path)
    with Session(engine) as session:
        yield session
    engine.dispose()
