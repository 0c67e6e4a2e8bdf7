"""What every sheet shares: its templates, the register, the counts of findings, the session, the error sheets."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, cast
from urllib.parse import urlencode

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from sqlmodel import Session
from starlette.exceptions import HTTPException

from app import units
from app.database import open_session
from app.pages.guard import HEADERS
from app.planning.cockpit_result import CockpitResult, CockpitResults
from app.settings import Settings

REGISTER = (
    ("Cockpit", "/"),
    ("Panels", "/panels"),
    ("Components", "/components"),
    ("Boards", "/boards"),
    ("Power", "/power"),
    ("Workshop", "/workshop"),
    ("Findings", "/findings"),
    ("Calculators", "/calculators"),
)


# What the framework says by itself, in words.
PLAIN_WORDS = {
    "Not Found": "Nothing lies at this address.",
    "Method Not Allowed": "This address is not for what was asked of it. Nothing was kept or changed.",
}


class TooLarge(Exception):
    """A body larger than its form allows."""

    def __init__(self, limit_bytes: int) -> None:
        super().__init__(f"what was sent is larger than {units.show(limit_bytes, 'B')}")
        self.limit_bytes = limit_bytes


@cache
def templates() -> Environment:
    """The templates; an undefined name is an error, all text is escaped."""
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(show=units.show, show_duration=units.show_duration, register=REGISTER)
    return environment


def render(
    request: Request, template: str, *, block: str | None = None, status: int = 200, **values: Any
) -> HTMLResponse:
    """A sheet as HTML; with `block`, an htmx request gets only that named block of the template."""
    page = templates().get_template(template)
    results = cockpit_results(request).latest()
    settings = cast(Settings, request.app.state.settings)
    context: dict[str, Any] = {
        "request_path": request.url.path,
        "counts": results.counts,
        "cockpit_name": results.cockpit_name,
        "demo": settings.is_demo,
        "today": date.today(),  # noqa: DTZ011 - the day on the builder's own wall
        "notices": [{"kind": "info", "text": text} for text in request.query_params.getlist("notice")[:3]],
        "htmx_src": "/htmx/htmx.min.js",
        **values,
    }
    if block is not None and _wants_a_part(request):
        drawn = page.new_context(context)
        next(page.root_render_func(drawn), None)  # what stands above the blocks: imports and settings
        part = "".join(page.blocks[block](drawn))
        return HTMLResponse(part, status_code=status)
    return HTMLResponse(page.render(context), status_code=status)


def _wants_a_part(request: Request) -> bool:
    """Whether htmx asks for a fragment; when it restores a page of its history it wants the whole."""
    headers = request.headers
    return headers.get("hx-request") == "true" and headers.get("hx-history-restore-request") != "true"


def cockpit_results(request: Request) -> CockpitResults:
    """The keeper of what the whole cockpit computes to."""
    return cast(CockpitResults, request.app.state.results)


def cockpit_result(request: Request) -> CockpitResult:
    """What the whole cockpit computes to, as of the last change."""
    return cockpit_results(request).latest()


@contextmanager
def session_of(request: Request) -> Iterator[Session]:
    """A session for this request; open it inside the endpoint."""
    with open_session(request.app.state.engine) as session:
        yield session


def go_to(path: str, notice: str = "") -> RedirectResponse:
    """See the other sheet after a change was kept, with a word about it."""
    if notice:
        path += ("&" if "?" in path else "?") + urlencode({"notice": notice})
    return RedirectResponse(path, status_code=303)


def install_error_sheets(app: FastAPI) -> None:
    """Errors answered as sheets, in words."""

    @app.exception_handler(TooLarge)
    def too_large(request: Request, error: TooLarge) -> Response:
        return render(
            request,
            "error.html",
            status=413,
            heading="Too large",
            sentence="What was sent is larger than the "
            f"{units.show(error.limit_bytes / 1024**2, 'MB', 0)} this form takes. Nothing was kept or changed.",
        )

    @app.exception_handler(HTTPException)
    def http_error(request: Request, error: HTTPException) -> Response:
        heading = "No such sheet" if error.status_code == 404 else "Not possible here"
        sentence = PLAIN_WORDS.get(str(error.detail), str(error.detail))
        return render(request, "error.html", status=error.status_code, heading=heading, sentence=sentence)

    @app.exception_handler(RequestValidationError)
    def no_such_address(request: Request, _error: RequestValidationError) -> Response:
        return http_error(request, HTTPException(404))

    @app.exception_handler(Exception)
    def went_wrong(request: Request, _error: Exception) -> Response:
        """A fault of the program; answered outside of the guard, so that the policy is added here."""
        sentence = "This is a fault of Coaming. Nothing of this step was kept; what was kept before stands."
        try:
            answer: Response = render(
                request, "error.html", status=500, heading="Something went wrong", sentence=sentence
            )
        except Exception:  # the fault may lie in what every sheet shows
            answer = PlainTextResponse(sentence, status_code=500)
        answer.headers.update(HEADERS)
        return answer
