"""The names of a board's pins for its program: shown, taken away, and held against a program's own list."""

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app import units
from app.exporters.pin_header import pin_header
from app.exporters.pin_table import PinTableRow, pin_table
from app.pages.boards import board_of
from app.pages.sheet import cockpit_result, render
from app.pages.typed import Typed, TypedForm
from app.planning.pin_names import (
    HEADER_MAX_BYTES,
    PinHeaderRefused,
    PinNameLine,
    TakenHeader,
    pin_names,
    take_pin_header,
)

router = APIRouter()


@router.get("/boards/{code}/pin-names")
def show_pin_names(request: Request, code: str) -> Response:
    """Every pin in use with its name in C."""
    result = cockpit_result(request)
    board = board_of(result, code)
    return render(request, "pin_names.html", code=code, result=board, names=pin_names(result.plan, board))


@router.get("/boards/{code}/pins.h")
def take_away_header(request: Request, code: str) -> Response:
    """The names as a C header."""
    result = cockpit_result(request)
    board = board_of(result, code)
    words = ", ".join(part for part in (board.board.name, board.module.name) if part)
    header = pin_header(pin_names(result.plan, board).named, board_code=code, board_words=words)
    return _file(header, "text/plain; charset=utf-8", f"{code}-pins.h")


@router.get("/boards/{code}/pins.csv")
def take_away_table(request: Request, code: str) -> Response:
    """All pins of the module as a table for a spreadsheet."""
    result = cockpit_result(request)
    board = board_of(result, code)
    rows = [_table_row(line) for line in pin_names(result.plan, board).lines]
    return _file(pin_table(rows), "text/csv; charset=utf-8; header=present", f"{code}-pins.csv")


@router.get("/boards/{code}/pin-names/header")
def show_pin_header(request: Request, code: str) -> Response:
    """The form for a header or source to be held against the plan."""
    return _header_page(request, code, Typed())


@router.post("/boards/{code}/pin-names/header")
def compare_pin_header(request: Request, code: str, typed: TypedForm) -> Response:
    """Where an uploaded header or source disagrees with the plan; nothing is kept."""
    result = cockpit_result(request)
    board = board_of(result, code)
    upload = typed.file("file", "Header or source")
    if upload is not None:
        try:
            taken = take_pin_header(result.plan, board, upload.filename or "header", upload.file.read())
            return _header_page(request, code, typed, taken=taken)
        except PinHeaderRefused as error:
            typed.refuse("file", f"{error}. Nothing was compared.")
    return _header_page(request, code, typed, status=422)


def _header_page(
    request: Request, code: str, form: Typed, *, taken: TakenHeader | None = None, status: int = 200
) -> Response:
    result = cockpit_result(request)
    board = board_of(result, code)
    return render(
        request,
        "pin_header.html",
        status=status,
        code=code,
        result=board,
        form=form,
        taken=taken,
        in_use=len(pin_names(result.plan, board).named),
        largest=units.show(HEADER_MAX_BYTES // (1024 * 1024), "MB"),
    )


def _table_row(line: PinNameLine) -> PinTableRow:
    pin, function = line.line.pin, line.line.function
    said = [line.line.carries if line.line.state == "reserved" else "", pin.condition]
    return PinTableRow(
        pin_label=pin.label,
        chip_pin=pin.chip_pin,
        state=line.line.state,
        function_code=function.code if function else "",
        function_name=function.name if function else "",
        terminal=line.terminal,
        identifier=line.identifier.identifier if line.identifier else "",
        conditions="; ".join(part for part in said if part),
    )


def _file(content: bytes, media_type: str, name: str) -> Response:
    """A file to keep; the name twice, as RFC 6266, appendix D, advises for names beyond ASCII."""
    plain = name.encode("ascii", "replace").decode().replace("?", "_")
    disposition = f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"
    return Response(content, headers={"content-type": media_type, "content-disposition": disposition})
