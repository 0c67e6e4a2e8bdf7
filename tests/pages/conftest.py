"""A fresh empty cockpit for each test: its pages through `client`, its rows through `session`."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.database import open_engine
from app.main import build_app
from app.settings import Settings


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(tmp_path)


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
