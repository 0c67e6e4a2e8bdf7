"""Builds the web application."""

import importlib.util
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import anyio.to_thread
from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from app.database import migrate, open_engine
from app.pages import SHEETS
from app.pages.guard import Guard
from app.pages.sheet import TooLarge, install_error_sheets
from app.planning.cockpit_result import CockpitResults
from app.planning.remedy_tables import RemedyTables
from app.planning.starter_list import begin_cockpit
from app.settings import Settings, program_dir

WORKER_THREADS = 4  # more only queue behind SQLite and the interpreter's lock


def htmx_dir() -> Path:
    """The folder of the htmx package's files; found without importing it (its import wants another framework)."""
    spec = importlib.util.find_spec("js_lib_htmx")
    if spec is None or not spec.submodule_search_locations:
        raise RuntimeError("the package django-js-lib-htmx is missing; install Coaming again")
    return Path(spec.submodule_search_locations[0]) / "static" / "htmx"


def build_app(settings: Settings) -> FastAPI:
    """The application on the data folder of `settings`, its tables brought up to date."""
    migrate(settings.database_path, program_dir() / "migrations")
    engine = open_engine(settings.database_path)
    begin_cockpit(engine)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        anyio.to_thread.current_default_thread_limiter().total_tokens = WORKER_THREADS
        yield
        app.state.results.close()
        engine.dispose()

    app = FastAPI(title="Coaming", docs_url=None, redoc_url=None, openapi_url=None, lifespan=lifespan)
    app.state.settings = settings
    app.state.engine = engine
    app.state.results = CockpitResults(engine)
    app.state.remedy_tables = RemedyTables(engine)
    app.mount("/static", StaticFiles(directory=program_dir() / "static"), name="static")
    app.mount("/htmx", StaticFiles(directory=htmx_dir()), name="htmx")
    for sheet in SHEETS:
        app.include_router(sheet)
    install_error_sheets(app)
    app.add_middleware(Guard, too_large=TooLarge)
    return app
