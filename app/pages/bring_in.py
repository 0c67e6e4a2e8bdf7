"""Bringing a function list in: pasted or from a file, shown row by row, kept only when confirmed."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import select

from app import units
from app.pages.functions import range_end
from app.pages.sheet import go_to, render, session_of
from app.pages.typed import Typed, TypedForm, typed_text
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

# More rows are corrected on their own sheets: a form of thousands of fields helps nobody.
ROWS_CORRECTED = 200
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

Corrections = Mapping[int, Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class ReadEntry:
    """What was read from a row's range, for one field of the preview: as it stands, and as it was read."""

    name: str
    value: str
    was: str


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
        typed.refuse("list" if upload is None else "file", "Paste a list, or choose a file that holds one.")
        return _form(request, typed, status=422)
    field = "file" if upload is not None else "list"
    typed.text("panel", "Panel")
    corrections = _corrections(typed)
    try:
        preview = _preview(request, typed, data, name or typed.value("file_name") or None, corrections)
    except FunctionListRefused as error:
        typed.refuse(field, str(error))
    if "panel" in typed.errors or field in typed.errors:
        return _form(request, typed, status=422)
    return _shown(request, typed, preview, corrections, status=200 if typed.is_fine else 422)


@router.post("/bring-in/keep")
def keep_bring_in(request: Request, typed: TypedForm) -> Response:
    """Keep the list as it was shown, with what was corrected; what was not shown yet is shown first."""
    typed.text("panel", "Panel")
    corrections = _corrections(typed)
    try:
        preview = _preview(request, typed, typed.value("list"), typed.value("file_name") or None, corrections)
    except FunctionListRefused as error:
        typed.refuse("list", str(error))
    if "panel" in typed.errors or "list" in typed.errors:
        return _form(request, typed, status=422)
    if not typed.is_fine:
        return _shown(request, typed, preview, corrections, status=422)
    if _columns_changed(typed):
        notice = "The columns were changed. This is how the rows are taken now; nothing is kept yet."
        return _shown(request, typed, preview, corrections, notice=notice)
    if preview.fingerprint != typed.value("seen"):
        notice = "The rows come out otherwise than they were shown: look again, then keep them."
        return _shown(request, typed, preview, corrections, notice=notice, status=409)
    if not (preview.count("new") or preview.count("changed")):
        return _shown(request, typed, preview, corrections)
    with session_of(request) as session:
        kept = keep_list(session, preview)
        session.commit()
    parts = [f"{kept.new} new", f"{kept.changed} changed", f"{kept.same} as they were"]
    if kept.refused:
        parts.append(f"{kept.refused} refused and left out")
    where = f"/panels/{kept.panel_codes[0]}" if len(kept.panel_codes) == 1 else "/panels"
    return go_to(where, f"The list is kept: {', '.join(parts)}.")


def _preview(
    request: Request, typed: Typed, data: bytes | str, file_name: str | None, corrections: Corrections
) -> ListPreview:
    """The list as it would be kept, its columns as chosen (guessed anew where the headings are another row)."""
    columns = {
        int(name[7:]): value
        for name, value in typed.values.items()
        if name.startswith("column-") and name[7:].isdecimal() and len(name) < 12
    }
    headings = typed.value("headings")
    if headings != typed.value("was-headings"):
        columns = {}
    twice = [index for index, field in columns.items() if field and list(columns.values()).count(field) > 1]
    for index in [i for i in twice if columns[i] != typed.value(f"was-column-{i}")] or twice:
        typed.refuse(f"column-{index}", f"“{FIELD_NAMES.get(columns[index], '')}” is chosen for two columns.")
    if twice:
        columns = {index: typed.value(f"was-column-{index}") for index in columns}
    with session_of(request) as session:
        return preview_list(
            session,
            data,
            file_name,
            columns=columns or None,
            has_headings={"yes": True, "no": False}.get(headings),
            panel_code=" ".join(typed.value("panel").split()),
            corrections=corrections,
            is_sent_back=isinstance(data, str) and bool(typed.value("seen")),
        )


def _columns_changed(typed: Typed) -> bool:
    """Whether a column or the headings were changed since the rows were shown."""
    chosen = {n: v for n, v in typed.values.items() if n.startswith("column-") or n == "headings"}
    return any(value != typed.value(f"was-{name}") for name, value in chosen.items())


def _corrections(typed: Typed) -> dict[int, dict[str, Any]]:
    """What was corrected in the preview: fields named COLUMN-LINE, with what was read beside as was-COLUMN-LINE."""
    corrections: dict[int, dict[str, Any]] = {}
    for name in list(typed.values):
        column, dash, line = name.rpartition("-")
        if not dash or column not in CORRECTABLE or not line.isdecimal() or len(line) > 6:
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
        word = typed.text(name, "Unit", longest=24)
        return units.unit_named(word) or word
    if not text:
        return None
    if column == "positions":
        return typed.whole(name, "Positions", least=1, most=100)
    return range_end(typed, name, column.title())


def _read_entries(
    typed: Typed, preview: ListPreview, corrections: Corrections
) -> dict[int, dict[str, ReadEntry]]:
    """The fields of the preview, by line and column."""
    entries: dict[int, dict[str, ReadEntry]] = {}
    for row in preview.rows:
        if row.outcome == "refused" and row.line not in corrections:
            continue
        for column in CORRECTABLE:
            name = f"{column}-{row.line}"
            value = row.shown[column]
            read = ("yes" if value else "no") if column == "is_endless" else typed_text(value)
            was = typed.value(f"was-{name}") if column in corrections.get(row.line, {}) else read
            shown = typed.value(name) if typed.error(name) else read
            entries.setdefault(row.line, {})[column] = ReadEntry(name, shown, was)
    return entries


def _reasons(typed: Typed, preview: ListPreview) -> dict[int, str]:
    """Why each column is taken as it is: as first said, unless the builder changed it since."""
    reasons = {column.index: column.reason for column in preview.list.columns}
    if typed.value("headings") == typed.value("was-headings"):
        for index in reasons:
            if typed.value(f"column-{index}") == typed.value(f"was-column-{index}"):
                reasons[index] = typed.value(f"reason-{index}") or reasons[index]
    return reasons


def _form(request: Request, typed: Typed, status: int = 200) -> Response:
    with session_of(request) as session:
        panels = session.exec(select(Panel.code).order_by(Panel.code)).all()
    return render(request, "bring_in.html", form=typed, panels=list(panels), status=status)


def _shown(
    request: Request,
    typed: Typed,
    preview: ListPreview,
    corrections: Corrections,
    *,
    notice: str = "",
    status: int = 200,
) -> Response:
    can_correct = len(preview.rows) <= ROWS_CORRECTED
    return render(
        request,
        "bring_in_preview.html",
        form=typed,
        preview=preview,
        fields=[("", "leave out"), *((field, FIELD_NAMES[field]) for field in FIELDS)],
        read=_read_entries(typed, preview, corrections) if can_correct else {},
        can_correct=can_correct,
        reasons=_reasons(typed, preview),
        notices=[{"kind": "caution", "text": notice}] if notice else [],
        status=status,
    )
