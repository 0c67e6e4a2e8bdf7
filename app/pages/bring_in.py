"""Bringing a function list in: pasted or from a file, shown row by row, kept only when confirmed."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import select

from app.pages.sheet import go_to, render, session_of
from app.pages.typed import Typed, TypedForm
from app.planning.bring_in import (
    CORRECTABLE,
    FIELDS,
    FunctionListRefused,
    ListPreview,
    keep_list,
    preview_list,
)
from app.tables import Panel

router = APIRouter()

ROWS_CORRECTED = (
    200  # more rows are corrected on their own sheets: a form of thousands of fields helps nobody
)
FIELD_NAMES = {
    "id": "id",
    "panel": "panel",
    "board": "board",
    "name": "function",
    "kind": "kind",
    "range": "range or colour",
    "unit": "unit",
    "signal": "signal",
    "wiring": "wiring",
    "n": "positions",
    "note": "note",
}


@router.get("/bring-in")
def offer_bring_in(request: Request, panel: str = "") -> Response:
    """An empty form for a list."""
    return _form(request, Typed({"panel": panel}))


@router.post("/bring-in")
def preview_bring_in(request: Request, typed: TypedForm) -> Response:
    """Show how the list would be kept; nothing is."""
    upload = typed.file("file", "File", required=False)
    data: bytes | str = upload.file.read() if upload is not None else typed.value("list")
    name = upload.filename if upload is not None else None
    if not data or (isinstance(data, str) and not data.strip()):
        typed.refuse("list", "Paste a list, or choose a file.")
        return _form(request, typed, status=422)
    field = "file" if upload is not None else "list"
    try:
        preview = _preview(request, typed, data, name or (typed.value("file_name") or None))
    except FunctionListRefused as error:
        typed.refuse(field, str(error))
        return _form(request, typed, status=422)
    if not typed.is_fine:
        return _form(request, typed, status=422)
    return _shown(request, typed, preview)


@router.post("/bring-in/keep")
def keep_bring_in(request: Request, typed: TypedForm) -> Response:
    """Keep the list as shown, with what was corrected."""
    try:
        preview = _preview(request, typed, typed.value("list"), typed.value("file_name") or None)
    except FunctionListRefused as error:
        typed.refuse("list", str(error))
        return _form(request, typed, status=422)
    if not typed.is_fine or not (preview.count("new") or preview.count("changed")):
        return _shown(request, typed, preview, status=422 if not typed.is_fine else 200)
    with session_of(request) as session:
        kept = keep_list(session, preview)
        session.commit()
    parts = [f"{kept.new} new", f"{kept.changed} changed", f"{kept.same} as they were"]
    if kept.refused:
        parts.append(f"{kept.refused} refused and left out")
    where = f"/panels/{kept.panel_codes[0]}" if len(kept.panel_codes) == 1 else "/panels"
    return go_to(where, f"The list is kept: {', '.join(parts)}.")


def _preview(request: Request, typed: Typed, data: bytes | str, file_name: str | None) -> ListPreview:
    columns: dict[int, str] = {}
    for name, value in typed.values.items():
        if name.startswith("column-") and name[7:].isdigit() and len(name) < 12:
            columns[int(name[7:])] = value
    has_headings = {"yes": True, "no": False}.get(typed.value("headings"))
    with session_of(request) as session:
        return preview_list(
            session,
            data,
            file_name,
            columns=columns or None,
            has_headings=has_headings,
            panel_code=typed.value("panel").strip(),
            corrections=_corrections(typed),
        )


def _corrections(typed: Typed) -> dict[int, dict[str, Any]]:
    """What was corrected in the preview: fields named as COLUMN-LINE, with what was read as was-COLUMN-LINE."""
    corrections: dict[int, dict[str, Any]] = {}
    for name in list(typed.values):
        column, dash, line = name.rpartition("-")
        if not dash or column not in CORRECTABLE or not line.isdigit() or len(line) > 6:
            continue
        if typed.value(name).strip() == typed.value(f"was-{name}").strip():
            continue
        value = _corrected(typed, name, column)
        if name not in typed.errors:
            corrections.setdefault(int(line), {})[column] = value
    return corrections


def _corrected(typed: Typed, name: str, column: str) -> Any:
    text = typed.value(name).strip()
    if column == "is_endless":
        return text == "yes"
    if column == "unit":
        return text
    if not text:
        return None
    if column == "positions":
        return typed.whole(name, "Positions", least=1, most=100)
    try:
        return float(text.replace("\u2212", "-").replace(",", "."))
    except ValueError:
        typed.refuse(name, f"{column.title()} is a number without its unit; {text[:40]!r} is not.")
        return None


def _form(request: Request, typed: Typed, status: int = 200) -> Response:
    with session_of(request) as session:
        panels = session.exec(select(Panel.code, Panel.name).order_by(Panel.code)).all()
    choices = [(code, f"{code} {name}") for code, name in panels]
    return render(request, "bring_in.html", form=typed, panels=choices, status=status)


def _shown(request: Request, typed: Typed, preview: ListPreview, status: int = 200) -> Response:
    return render(
        request,
        "bring_in_preview.html",
        form=typed,
        preview=preview,
        fields=[("", "leave out"), *((field, FIELD_NAMES[field]) for field in FIELDS)],
        can_correct=len(preview.rows) <= ROWS_CORRECTED,
        status=status,
    )
