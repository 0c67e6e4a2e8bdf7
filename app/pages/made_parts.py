"""One made part: its revisions, attempts and files, the hours to expect; its entries, edited or removed."""

from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session, func, select

from app.pages.sheet import go_to, render, session_of
from app.pages.typed import Typed, TypedForm, typed_text
from app.pages.workshop import panel_options, part_values
from app.planning.attempt_log import PartInUse, remove_part, revisions_by_number
from app.planning.edit import EditedMeanwhile, save_row
from app.planning.workshop import gather_part
from app.tables import MadePart, Panel

router = APIRouter()

LARGEST_ROW = 2**63 - 1  # an address may name a larger number, SQLite has none
PART_LABELS = {
    "code": "Id",
    "name": "Name",
    "panel": "Panel",
    "material": "Material",
    "hours": "Hours of one print",
    "grams": "Grams of one print",
    "figures_mark": "Source mark",
    "approved": "Approved revision",
    "installed": "Installed revision",
    "note": "Note",
}


def part_of(session: Session, code: str) -> MadePart:
    """The part with this id, case ignored; else the sheet that says there is none."""
    part = session.exec(select(MadePart).where(func.lower(MadePart.code) == code.lower())).first()
    if part is None:
        raise HTTPException(404, f"There is no made part {code[:60]} in this cockpit.")
    return part


@router.get("/workshop/{code}")
def show_part(request: Request, code: str) -> Response:
    """The part's sheet."""
    with session_of(request) as session:
        history = gather_part(session, part_of(session, code))
        return render(request, "made_part.html", h=history, part=history.part)


@router.get("/workshop/{code}/edit")
def offer_part_edit(request: Request, code: str) -> Response:
    """The form for the part's entries."""
    with session_of(request) as session:
        part = part_of(session, code)
        return _edit_form(request, session, part, Typed(_entries(session, _columns(part))))


@router.post("/workshop/{code}/edit")
def edit_part(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep the part's entries, unless another tab did first."""
    with session_of(request) as session:
        part = part_of(session, code)
        values = part_values(session, typed, but_id=part.id)
        numbers = [str(number) for number in revisions_by_number(session, part)]
        for name, column in (("approved", "approved_revision"), ("installed", "installed_revision")):
            chosen = typed.choice(name, PART_LABELS[name], numbers)
            values[column] = int(chosen) if chosen in numbers else None
        if not typed.is_fine:
            return _edit_form(request, session, part, typed, status=422)
        try:
            save_row(session, part, typed.seen_version(), values)
        except EditedMeanwhile as other:
            theirs = _entries(session, other.theirs)
            typed.values["version"] = theirs["version"]
            return _edit_form(
                request,
                session,
                part,
                typed,
                status=409,
                mine=[(label, typed.value(name)) for name, label in PART_LABELS.items()],
                theirs=[(label, theirs[name]) for name, label in PART_LABELS.items()],
            )
        session.commit()
        return go_to(f"/workshop/{part.code}", f"{part.code} was kept.")


@router.post("/workshop/{code}/remove")
def take_part_out(request: Request, code: str) -> Response:
    """Remove a part that has no attempt and no file."""
    with session_of(request) as session:
        part = part_of(session, code)
        try:
            remove_part(session, part)
        except PartInUse as in_use:
            return go_to(f"/workshop/{part.code}", str(in_use))
        name = f"{part.code} {part.name}"
        session.commit()
        return go_to("/workshop", f"{name} was removed.")


def _columns(part: MadePart) -> dict[str, Any]:
    return {name: getattr(part, name) for name in MadePart.model_fields}


def _entries(session: Session, columns: Any) -> dict[str, str]:
    """The form's fields from the part's columns."""
    panel = session.get(Panel, columns["panel_id"]) if columns["panel_id"] is not None else None
    entries = {name: typed_text(columns.get(name)) for name in (*PART_LABELS, "version")}
    entries["panel"] = panel.code if panel else ""
    entries["approved"] = typed_text(columns["approved_revision"])
    entries["installed"] = typed_text(columns["installed_revision"])
    return entries


def _edit_form(
    request: Request, session: Session, part: MadePart, typed: Typed, status: int = 200, **conflict: Any
) -> Response:
    numbers = [(str(number), f"r{number}") for number in revisions_by_number(session, part)]
    return render(
        request,
        "made_part_edit.html",
        status=status,
        form=typed,
        part=part,
        labels=PART_LABELS,
        panels=panel_options(session),
        numbers=numbers,
        **{"mine": None, "theirs": None, **conflict},
    )
