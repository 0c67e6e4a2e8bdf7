"""The panel sheets: the list, and one panel with its face, its functions and what they mean."""

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session, col, func, or_, select

from app.pages.face_drawing import FaceDrawing, FaceItem
from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import MARKS, Typed, TypedForm, typed_text
from app.planning.cockpit_sheet import cockpit_sheet
from app.planning.edit import EditedMeanwhile, code_is_free, next_code, save_row
from app.planning.function_edit import KINDS
from app.planning.panel_edit import PanelInUse, add_panel, add_panel_load, remove_panel, what_holds_panel
from app.planning.panel_sheet import PanelSheet, panel_sheet
from app.tables import Component, Panel, PanelLoad

router = APIRouter()

FIELDS = ("code", "name", "face_width_mm", "face_height_mm", "face_mark", "state", "issue", "note", "version")
LABELS = {
    "code": "Id",
    "name": "Name",
    "face_width_mm": "Face width, mm",
    "face_height_mm": "Face height, mm",
    "face_mark": "Source of the face's size",
    "state": "State",
    "issue": "Issue",
    "note": "Note",
}
ABSURD_FACE_MM = 2000.0


def panel_of(session: Session, code: str) -> Panel:
    """The panel with this id, case ignored; else the sheet that says there is none."""
    # SQLite lowers plain letters only, so the id as it is is looked for too.
    same = or_(col(Panel.code) == code, func.lower(Panel.code) == code.lower())
    panel = session.exec(select(Panel).where(same)).first()
    if panel is None:
        raise HTTPException(404, f"There is no panel {code[:60]} in this cockpit.")
    return panel


@router.get("/panels")
def show_panels(request: Request) -> Response:
    """Every panel in one row."""
    result = cockpit_result(request)
    with session_of(request) as session:
        return render(request, "panels.html", sheet=cockpit_sheet(session, result))


@router.get("/panels/new")
def offer_new_panel(request: Request) -> Response:
    """An empty form for a panel."""
    with session_of(request) as session:
        form = Typed({"code": next_code(session, Panel, "P", 2), "face_mark": "assumed"})
    return render(request, "panel_form.html", form=form, panel=None, source_marks=MARKS)


@router.post("/panels/new")
def add_new_panel(request: Request, typed: TypedForm) -> Response:
    """Keep a new panel."""
    with session_of(request) as session:
        values = _values(session, typed, None)
        if values is None:
            return render(request, "panel_form.html", form=typed, panel=None, source_marks=MARKS, status=422)
        panel = add_panel(session, values.pop("code"), values.pop("name"))
        for column, value in values.items():
            setattr(panel, column, value)
        session.add(panel)
        session.commit()
        code = panel.code
    return go_to(f"/panels/{code}", "The panel is kept. Add its functions, or bring their list in.")


@router.get("/panels/{code}")
def show_panel(request: Request, code: str) -> Response:
    """The panel's sheet."""
    return panel_page(request, code, Typed())


def panel_page(request: Request, code: str, form: Typed, status: int = 200) -> Response:
    """The panel's sheet with a form as typed."""
    result = cockpit_result(request)
    with session_of(request) as session:
        panel = panel_of(session, code)
        sheet = panel_sheet(session, panel, result)
        return render(
            request,
            "panel.html",
            panel=panel,
            sheet=sheet,
            drawing=_face(panel, sheet),
            form=form,
            kinds=KINDS,
            components=[(c.code, f"{c.code}: {c.name}") for c in result.plan.components.values()],
            boards=[b.code for b in result.plan.boards.values()],
            status=status,
        )


@router.get("/panels/{code}/edit")
def offer_panel_edit(request: Request, code: str) -> Response:
    """The form for the panel's entries."""
    with session_of(request) as session:
        panel = panel_of(session, code)
        form = Typed.of_row(panel, FIELDS)
        return render(request, "panel_form.html", form=form, panel=panel, source_marks=MARKS)


@router.post("/panels/{code}/edit")
def save_panel(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep the panel's entries, unless another tab did first."""
    with session_of(request) as session:
        panel = panel_of(session, code)
        values = _values(session, typed, panel.id)
        if values is None:
            return render(request, "panel_form.html", form=typed, panel=panel, source_marks=MARKS, status=422)
        try:
            save_row(session, panel, typed.seen_version(), values)
        except EditedMeanwhile as error:
            typed.values["version"] = str(error.theirs["version"])
            both = (said(values, LABELS), said(error.theirs, LABELS))
            return render(
                request,
                "panel_form.html",
                form=typed,
                panel=panel,
                source_marks=MARKS,
                both=both,
                status=409,
            )
        session.commit()
        new_code = panel.code
    return go_to(f"/panels/{new_code}")


@router.get("/panels/{code}/delete")
def offer_panel_delete(request: Request, code: str) -> Response:
    """Ask before a panel is taken away, or say what it still holds."""
    return _delete_page(request, code)


@router.post("/panels/{code}/delete")
def take_panel_away(request: Request, code: str) -> Response:
    """Take away a panel that holds nothing."""
    with session_of(request) as session:
        panel = panel_of(session, code)
        code = panel.code
        try:
            remove_panel(session, panel)
        except PanelInUse:
            return _delete_page(request, code, status=409)
        session.commit()
    return go_to("/panels", f"{code} is taken away.")


def _delete_page(request: Request, code: str, status: int = 200) -> Response:
    with session_of(request) as session:
        panel = panel_of(session, code)
        held = what_holds_panel(session, panel)
        return render(request, "panel_delete.html", panel=panel, held=held, status=status)


@router.post("/panels/{code}/loads")
def add_load(request: Request, code: str, typed: TypedForm) -> Response:
    """Add a load that is no function."""
    with session_of(request) as session:
        panel = panel_of(session, code)
        word = typed.text("load", "Component", required=True)
        count = typed.whole("load_count", "Count", required=True, least=1, most=1000)
        component = session.exec(select(Component).where(Component.code == word)).first()
        if word and component is None:
            typed.refuse("load", f"{word[:40]!r} is no component of the list.")
        if typed.is_fine and component is not None:
            add_panel_load(session, panel, component, count or 1)
            session.commit()
            return go_to(f"/panels/{code}")
    return panel_page(request, code, typed, status=422)


@router.post("/panels/{code}/loads/{load_id}/remove")
def take_load_away(request: Request, code: str, load_id: int) -> Response:
    """Take such a load away."""
    with session_of(request) as session:
        panel = panel_of(session, code)
        load = session.get(PanelLoad, load_id) if load_id < 2**63 else None
        if load is None or load.panel_id != panel.id:
            raise HTTPException(404, f"There is no such load on {code}.")
        session.delete(load)
        session.commit()
    return go_to(f"/panels/{code}")


def said(row: Mapping[str, Any], labels: Mapping[str, str]) -> list[tuple[str, str]]:
    """Columns of a row with their labels, for the two versions side by side."""
    words = {True: "yes", False: "no"}
    return [
        (label, words[row[name]] if isinstance(row[name], bool) else typed_text(row[name]))
        for name, label in labels.items()
        if name in row
    ]


def _face(panel: Panel, sheet: PanelSheet) -> FaceDrawing | None:
    if not (panel.face_width_mm and panel.face_height_mm):
        return None
    items = tuple(
        FaceItem(f.item, f.kind, f.name, verdict="" if f.verdict == "fine" else f.verdict or "")
        for f in sheet.functions
    )
    return FaceDrawing(f"{panel.code} {panel.name}", panel.face_width_mm, panel.face_height_mm, items)


def _values(session: Session, typed: Typed, own_id: int | None) -> dict[str, Any] | None:
    """The columns of a panel as typed, or None where a field is refused."""
    code = typed.code("code")
    if code and not code_is_free(session, Panel, code, own_id):
        typed.refuse("code", f"Another panel has the id {code}.")
    values: dict[str, Any] = {"code": code, "name": typed.text("name", "Name", required=True)}
    for column, label in (("face_width_mm", "Face width"), ("face_height_mm", "Face height")):
        side = typed.quantity(column, "length_mm", label, ask_if_over=ABSURD_FACE_MM)
        if side == 0:
            typed.refuse(column, f"{label} is more than nothing.")
        values[column] = side
    values |= {
        "face_mark": typed.mark("face_mark"),
        "state": typed.text("state", "State"),
        "issue": typed.text("issue", "Issue", longest=24),
        "note": typed.text("note", "Note", longest=20_000),
    }
    return values if typed.is_fine else None
