"""Who may ask, how much may come, and the policy on every answer."""

import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress

import pytest
import uvicorn
from fastapi import FastAPI
from fastapi.testclient import TestClient
from starlette.types import Message, Receive, Scope, Send

from app.main import build_app
from app.pages import SHEETS
from app.pages.guard import FORM_OVERHEAD_BYTES, POLICY, UPLOAD_LIMITS, Guard, largest_body
from app.pages.sheet import TooLarge
from app.settings import (
    LARGEST_FIRMWARE_BYTES,
    LARGEST_FORM_BYTES,
    LARGEST_GCODE_BYTES,
    LARGEST_LIST_BYTES,
    Settings,
)

FORM = "/cockpit/edit"


@pytest.mark.parametrize(
    "host", ["127.0.0.1", "127.0.0.1:8650", "localhost", "localhost:8651", "LOCALHOST", "[::1]:8650"]
)
def test_this_machine_is_answered_by_each_of_its_names(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "example.org",
        "127.0.0.1.example.org",
        "localhost.example.org:8650",
        "192.168.1.5:8650",
        "0.0.0.0",  # noqa: S104  # asked for, not listened on
        "127.0.0.1@example.org",
        "[::1",
        "]",
        " ",
    ],
)
def test_a_foreign_host_is_refused(client: TestClient, host: str) -> None:
    """A name of somebody else's that leads to this machine (DNS rebinding) must not open the sheets."""
    answer = client.get("/", headers={"Host": host})
    assert answer.status_code == 403
    assert "answers only this machine" in answer.text
    assert answer.headers["Content-Security-Policy"] == POLICY


@pytest.mark.parametrize(
    "origin",
    [
        "https://example.org",
        "null",  # what a sandboxed frame or a file sends, RFC 6454 section 7
        "http://127.0.0.1:9999",
        "http://localhost",
        "https://127.0.0.1",
        "http://127.0.0.1.example.org",
        "http://[",
        "",
    ],
)
def test_a_form_of_another_site_keeps_nothing(client: TestClient, origin: str) -> None:
    answer = client.post(FORM, data={"name": "Taken over", "version": "1"}, headers={"Origin": origin})
    assert answer.status_code == 403
    assert "only from its own sheets" in answer.text
    assert "Taken over" not in client.get("/").text


def test_a_form_of_its_own_is_kept(client: TestClient) -> None:
    own = {"Origin": "http://127.0.0.1"}
    answer = client.post(FORM, data={"name": "My own", "version": "1"}, headers=own, follow_redirects=False)
    assert answer.status_code == 303
    assert "My own" in client.get("/").text


@pytest.mark.parametrize(
    "path",
    ["/", "/findings", "/nowhere", "/static/coaming.css", "/static/none.css", "/htmx/htmx.min.js", FORM],
)
def test_every_answer_carries_the_policy(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.headers["Content-Security-Policy"] == POLICY
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert client.delete(path).headers["Content-Security-Policy"] == POLICY


def test_the_policy_lets_nothing_in_that_is_not_our_own() -> None:
    # Content Security Policy Level 3: with default-src 'none' only what is named may load.
    rules = dict(rule.split(" ", 1) for rule in POLICY.split("; "))
    assert rules["default-src"] == "'none'"
    assert "unsafe" not in POLICY
    assert "*" not in POLICY
    assert not re.search(r"https?:", POLICY)
    assert rules["form-action"] == "'self'"
    assert rules["frame-ancestors"] == rules["base-uri"] == "'none'"


def test_a_fault_of_the_program_is_said_in_a_sheet_with_the_policy(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = build_app(settings)

    @app.get("/fault")
    def fault() -> None:
        raise RuntimeError("a fault")

    with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
        answer = client.get("/fault")
        assert answer.status_code == 500
        assert "fault of Coaming" in answer.text
        assert "<h1>" in answer.text
        assert "a fault\n" not in answer.text
        assert answer.headers["Content-Security-Policy"] == POLICY
        # Even where the fault lies in what every sheet shows.
        monkeypatch.setattr(app.state.results, "latest", fault)
        answer = client.get("/")
        assert (answer.status_code, answer.headers["content-type"]) == (500, "text/plain; charset=utf-8")
        assert "fault of Coaming" in answer.text
        assert answer.headers["Content-Security-Policy"] == POLICY


@pytest.mark.parametrize("path", ["/nowhere", "/printers/none", "/workshop/MP01/revisions/x"])
def test_an_address_without_a_sheet_is_said_in_a_sheet(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert "No such sheet" in answer.text
    assert answer.headers["content-type"].startswith("text/html")


def test_what_an_address_is_not_for_is_said_in_plain_words(client: TestClient) -> None:
    answer = client.post("/findings")
    assert answer.status_code == 405
    assert "Method" not in answer.text
    assert "Nothing was kept or changed" in answer.text


@pytest.mark.parametrize(
    ("path", "limit"),
    [
        ("/boards/BD01/firmware", LARGEST_FIRMWARE_BYTES),
        ("/workshop/MP01/revisions/2/gcode", LARGEST_GCODE_BYTES),
        ("/bring-in", LARGEST_LIST_BYTES),
        ("/bring-in/keep", LARGEST_LIST_BYTES),
        ("/bring-in/", LARGEST_LIST_BYTES),
        (FORM, LARGEST_FORM_BYTES),
        ("/", LARGEST_FORM_BYTES),
    ],
)
def test_each_form_has_its_limit(path: str, limit: int) -> None:
    assert largest_body(path) == limit


def test_a_body_of_the_largest_size_is_let_through_and_one_byte_over_is_not() -> None:
    allowed = LARGEST_FORM_BYTES + FORM_OVERHEAD_BYTES
    assert taken_of([bytes(allowed)], []) == allowed
    with pytest.raises(TooLarge):
        taken_of([bytes(allowed), b"x"], [])


def test_a_body_without_a_length_is_cut_off_at_its_limit_and_the_rest_is_not_read() -> None:
    pieces = [bytes(64 * 1024)] * 400  # 25 MB against 1 MB
    received: list[int] = []
    with pytest.raises(TooLarge) as cut:
        taken_of(pieces, received)
    assert cut.value.limit_bytes == LARGEST_FORM_BYTES
    assert sum(received) <= LARGEST_FORM_BYTES + FORM_OVERHEAD_BYTES + 64 * 1024


def test_a_body_that_says_it_is_too_large_is_not_read_at_all() -> None:
    received: list[int] = []
    with pytest.raises(TooLarge):
        taken_of([bytes(1024)], received, told=LARGEST_FORM_BYTES * 3)
    assert received == []


def taken_of(pieces: list[bytes], received: list[int], told: int | None = None) -> int:
    """The bytes that an application behind the guard reads of a body in pieces; `received` lists what was let in."""

    async def application(_scope: Scope, receive: Receive, _send: Send) -> None:
        while (await receive())["more_body"]:
            pass

    waiting = list(pieces)

    async def receive() -> Message:
        body = waiting.pop(0)
        received.append(len(body))
        return {"type": "http.request", "body": body, "more_body": bool(waiting)}

    async def send(_message: Message) -> None:
        raise AssertionError("nothing is answered here")

    headers = [(b"host", b"127.0.0.1")]
    if told is not None:
        headers.append((b"content-length", str(told).encode()))
    scope = {"type": "http", "path": FORM, "method": "POST", "headers": headers}
    answering = Guard(application, too_large=TooLarge)(scope, receive, send)
    with suppress(StopIteration):
        answering.send(None)  # nothing here waits for anything, so no loop is needed
        raise AssertionError("the guard waits")
    return sum(received)


@contextmanager
def served(app: FastAPI) -> Iterator[int]:
    """The application behind a real socket; its port."""
    with closing(socket.socket()) as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", access_log=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        try:
            yield listener.getsockname()[1]
        finally:
            server.should_exit = True
            thread.join()


@pytest.mark.parametrize("has_length", [True, False], ids=["with a length", "in chunks"])
def test_over_the_wire_a_body_too_large_is_answered_long_before_it_is_sent(
    settings: Settings, *, has_length: bool
) -> None:
    """The builder reads why; the program does not wait for, or keep, a gigabyte."""
    with served(build_app(settings)) as port, closing(socket.create_connection(("127.0.0.1", port))) as wire:
        wire.settimeout(20)
        told = "Content-Length: 1000000000" if has_length else "Transfer-Encoding: chunked"
        wire.sendall(
            f"POST {FORM} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
            f"Content-Type: application/x-www-form-urlencoded\r\n{told}\r\n\r\n".encode()
        )
        piece = b"name=" + b"x" * 65_531
        chunk = piece if has_length else b"%x\r\n%s\r\n" % (len(piece), piece)
        sent = 0
        begun = time.monotonic()
        wire.setblocking(False)
        answer = b""
        while sent < 200 * len(chunk) and not answer and time.monotonic() < begun + 20:
            with suppress(BlockingIOError):
                answer = wire.recv(100_000)
            try:
                sent += wire.send(chunk) if not answer else 0
            except BlockingIOError:
                time.sleep(0.01)
            except (BrokenPipeError, ConnectionResetError):
                break
    assert answer.startswith(b"HTTP/1.1 413 ")
    assert sent < 12_000_000  # what the sockets' buffers hold; nothing near what was announced


@pytest.mark.parametrize("last_word", sorted(UPLOAD_LIMITS))
def test_each_limit_belongs_to_a_form_that_is_there(last_word: str) -> None:
    paths = [getattr(route, "path", "") for sheet in SHEETS for route in sheet.routes]
    assert any(path.endswith(f"/{last_word}") for path in paths)
