"""The running program and a Chromium to walk it with: one browser a run, one context a test.

What the browser itself complains of (a policy that blocks something, a script's fault, an answer of 500) fails
the test in which it happens.
"""

import os
import shutil
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, ConsoleMessage, Page, Playwright, Response, sync_playwright

from app.main import build_app
from app.seed_demo import load_demo
from app.settings import Settings
from tests.ten_cockpits import LOADED_ON

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
PATIENCE_MS = 10_000

OpenPage = Callable[..., Page]


@pytest.fixture(scope="package")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="package")
def browser(playwright: Playwright) -> Iterator[Browser]:
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.fail(
            f"No Chromium was found (looked for {', '.join(NAMES)}). The browser tests walk the running program: "
            "install one, as with `apt-get install chromium`, or leave them out with -m 'not browser'."
        )
    # Chromium will not run sandboxed for the superuser, as which a container's tests run.
    arguments = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    browser = playwright.chromium.launch(executable_path=path, args=arguments)
    yield browser
    browser.close()


@contextmanager
def served(settings: Settings) -> Iterator[str]:
    """The program on a free port; its address."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)) as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        config = uvicorn.Config(build_app(settings), log_level="error", access_log=False)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        try:
            yield f"http://127.0.0.1:{listener.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join()


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """A builder's own cockpit, empty."""
    with served(Settings(tmp_path / "cockpit")) as address:
        yield address


@pytest.fixture(scope="package")
def demo_settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    settings = Settings(tmp_path_factory.mktemp("browser") / "demo", is_demo=True)
    load_demo(settings.data_dir, LOADED_ON)
    return settings


@pytest.fixture(scope="package")
def demo_address(demo_settings: Settings) -> Iterator[str]:
    """The demo cockpit, for tests that only read it."""
    with served(demo_settings) as address:
        yield address


@pytest.fixture
def open_page(browser: Browser) -> Iterator[OpenPage]:
    """Opens pages, each in a context of its own: `open_page(width=390, java_script_enabled=False, …)`."""
    complaints: list[str] = []
    contexts = []

    def note_console(message: ConsoleMessage) -> None:
        # That an answer was refused stands in the console too: it is told by its status, below.
        if message.type == "error" and "Failed to load resource" not in message.text:
            complaints.append(f"console: {message.text}")

    def note_answer(response: Response) -> None:
        if response.status >= 500 or (response.status == 404 and "/static/" in response.url):
            complaints.append(f"{response.url} was answered with {response.status}")

    def open_page(width: int = 1360, height: int = 900, **options: Any) -> Page:
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        page = context.new_page()
        page.on("console", note_console)
        page.on("pageerror", lambda error: complaints.append(f"script: {error}"))
        page.on("response", note_answer)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert complaints == []
