"""Page times over a real socket, against the same queries asked raw and the same template drawn bare."""

import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any
from unittest.mock import patch

from fastapi.testclient import TestClient
from jinja2 import Template
from sqlalchemy import event
from sqlmodel import Session, select

from app.database import migrate, open_engine
from app.main import build_app
from app.planning.starter_list import begin_cockpit
from app.seed_demo import load_demo
from app.settings import Settings, program_dir
from app.tables import Candidate, Component, Function, Panel

PANELS, FUNCTIONS_EACH = 100, 100
WARM, ASKED = 40, 300
CONNECTIONS, ASKED_EACH = 8, 60
KINDS = (("light", "led"), ("switch", "tg"), ("needle", "gs4"), ("button", "bt"))

Row = tuple[str, str, float, float | None]


def measure() -> list[Row]:
    """Rows of (what, unit and target in words, measured, target at most or None)."""
    with tempfile.TemporaryDirectory() as folder:
        large, demo = Path(folder) / "large", Path(folder) / "demo"
        _load_large(Settings(large))
        load_demo(demo)
        return [*_list_page(large), *_panel_sheet(demo)]


def _list_page(folder: Path) -> list[Row]:
    floor_ms = _floor_ms(folder, "/panels")
    with _served(folder) as port:
        times = _asked(port, "/panels")
        refused = _asked_at_once(port, "/panels")
    p50, p95 = _at(times, 0.50), _at(times, 0.95)
    own = f"x its own queries and template ({floor_ms:.2f} ms, page {p50:.2f} ms)"
    what = f"Page of {PANELS} rows, {PANELS * FUNCTIONS_EACH:,} behind it"
    return [
        (f"{what}, p50", f"{own}; target 2.0", p50 / floor_ms, 2.0),
        (f"{what}, p95", f"x its p50 at one connection ({p95:.2f} ms); target 1.5", p95 / p50, 1.5),
        (
            f"{what}, {CONNECTIONS} at once",
            f"of {CONNECTIONS * ASKED_EACH} answers not right; target 0",
            float(refused),
            0.0,
        ),
    ]


def _panel_sheet(folder: Path) -> list[Row]:
    floor_ms = _floor_ms(folder, "/panels/P05")
    with _served(folder) as port:
        p50 = _at(_asked(port, "/panels/P05"), 0.50)
    own = f"x its own queries and template ({floor_ms:.2f} ms, page {p50:.2f} ms)"
    return [
        ("Panel sheet with drawing, findings and budgets, p50", f"{own}; target 4.0", p50 / floor_ms, 4.0)
    ]


def _load_large(settings: Settings) -> None:
    migrate(settings.database_path, program_dir() / "migrations")
    engine = open_engine(settings.database_path)
    begin_cockpit(engine)
    with Session(engine) as session:
        components = dict(session.exec(select(Component.code, Component.id)).all())
        for number in range(1, PANELS + 1):
            panel = Panel(code=f"P{number:03d}", name=f"Panel {number}", face_width_mm=146, face_height_mm=95)
            session.add(panel)
            session.flush()
            functions = [
                Function(
                    code=f"F{number:03d}{place:03d}",
                    panel_id=panel.id or 0,
                    place=place,
                    name=f"Function {place}",
                    kind=KINDS[place % len(KINDS)][0],
                )
                for place in range(FUNCTIONS_EACH)
            ]
            session.add_all(functions)
            session.flush()
            session.add_all(
                Candidate(
                    function_id=function.id or 0,
                    component_id=components[KINDS[function.place % len(KINDS)][1]] or 0,
                    state="chosen",
                )
                for function in functions
            )
        session.commit()
    engine.dispose()


def _floor_ms(folder: Path, address: str) -> float:
    """What the page's own statements take on a bare connection, and its template with its values at hand."""
    asked: list[tuple[str, Any]] = []
    drawn: list[tuple[Template, dict[str, Any]]] = []
    draw = Template.render

    def note(_connection: object, _cursor: object, statement: str, values: Any, *_rest: object) -> None:
        asked.append((statement, values))

    def noted(template: Template, *context: Any, **values: Any) -> str:
        drawn.append((template, dict(*context, **values)))
        return draw(template, *context, **values)

    app = build_app(Settings(folder))
    with TestClient(app, base_url="http://127.0.0.1") as client:
        client.get(address)
        event.listen(app.state.engine, "before_cursor_execute", note)
        with patch.object(Template, "render", noted):
            client.get(address)
        event.remove(app.state.engine, "before_cursor_execute", note)
        template, values = drawn[-1]
        with closing(sqlite3.connect(Settings(folder).database_path)) as connection:

            def bare() -> None:
                for statement, given in asked:
                    connection.execute(statement, given).fetchall()
                template.render(values).encode()

            return _at(_timed(bare, ASKED), 0.50)


@contextmanager
def _served(folder: Path) -> Iterator[int]:
    """The program as a builder starts it; the port it answers at."""
    process = subprocess.Popen(
        [sys.executable, "-m", "app.cli", "serve", "--no-browser", "--data", str(folder), "--port", "8790"],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        line = process.stdout.readline() if process.stdout else ""
        address = next(word for word in line.split() if word.startswith("http://"))
        yield int(address.rstrip("/").rpartition(":")[2])
    finally:
        process.terminate()
        process.communicate()


def _asked(port: int, address: str) -> list[float]:
    """Milliseconds of each answer over one connection that stays open."""
    with closing(socket.create_connection(("127.0.0.1", port), timeout=60)) as wire:

        def ask() -> None:
            _expect(wire, address)

        _timed(ask, WARM)
        return _timed(ask, ASKED)


def _expect(wire: socket.socket, address: str) -> None:
    """Ask and wait for the whole answer; a client of a few lines, so that little of the time is its own."""
    wire.sendall(f"GET {address} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
    answer = b""
    while (end := answer.find(b"\r\n\r\n")) < 0:
        answer += _received(wire)
    length = int(answer[:end].lower().partition(b"content-length: ")[2].partition(b"\r\n")[0])
    while len(answer) < end + 4 + length:
        answer += _received(wire)
    if not answer.startswith(b"HTTP/1.1 200 ") or not answer.rstrip().endswith(b"</html>"):
        raise RuntimeError(f"{address} was answered with {answer[:60]!r}")


def _received(wire: socket.socket) -> bytes:
    piece = wire.recv(1 << 20)
    if not piece:
        raise ConnectionError("the program closed the connection")
    return piece


def _asked_at_once(port: int, address: str) -> int:
    """How many answers were not right with several connections asking at the same time."""
    right: list[str] = []

    def ask_many() -> None:
        with (
            suppress(RuntimeError, OSError),
            closing(socket.create_connection(("127.0.0.1", port), timeout=60)) as wire,
        ):
            for _ in range(ASKED_EACH):
                _expect(wire, address)
                right.append(address)

    askers = [threading.Thread(target=ask_many) for _ in range(CONNECTIONS)]
    for asker in askers:
        asker.start()
    for asker in askers:
        asker.join()
    return CONNECTIONS * ASKED_EACH - len(right)


def _timed(work: Callable[[], object], times: int) -> list[float]:
    took = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        took.append(1000 * (time.perf_counter() - begun))
    return took


def _at(times: list[float], share: float) -> float:
    return statistics.quantiles(times, n=100, method="inclusive")[round(100 * share) - 1]
