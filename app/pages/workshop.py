"""The workshop sheet: made parts, what their attempts came to, what spoilt them; and a part added."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session, col, select

from app.pages.sheet import go_to, render, session_of
from app.pages.typed import Typed, TypedForm
from app.planning.edit import code_is_free, next_code
from app.planning.workshop import NO_PANEL, gather_workshop
from app.tables import MadePart, Panel

router = APIRouter()


@router.get("/workshop")
def show_workshop(request: Request, panel: str = "") -> Response:
    """All made parts, or those of one panel."""
    with session_of(request) as session:
        workshop = gather_workshop(session, panel)
    return render(request, "workshop.html", workshop=workshop, panel=panel, no_panel=NO_PANEL)


@router.get("/workshop/new")
def offer_part(request: Request, panel: str = "") -> Response:
    """The form for a part of its own."""
    with session_of(request) as session:
        typed = Typed(
            {"code": next_code(session, MadePart, "MP", 2), "figures_mark": "assumed", "panel": panel}
        )
        return render(request, "made_part_new.html", form=typed, panels=panel_options(session))


@router.post("/workshop/new")
def add_part(request: Request, typed: TypedForm) -> Response:
    """Keep a new part."""
    with session_of(request) as session:
        part = MadePart(**part_values(session, typed))
        if not typed.is_fine:
            return render(
                request, "made_part_new.html", status=422, form=typed, panels=panel_options(session)
            )
        session.add(part)
        session.commit()
        return go_to(f"/workshop/{part.code}", f"{part.code} {part.name} was added.")


def part_values(session: Session, typed: Typed, but_id: int | None = None) -> dict[str, Any]:
    """A part's columns from its form; messages at the fields that are refused."""
    code = typed.code("code")
    if code and not code_is_free(session, MadePart, code, but_id):
        typed.refuse("code", f"Another made part has the id {code}.")
    panels = {panel_code: id_ for panel_code, _, id_ in _panels(session)}
    panel = typed.choice("panel", "Panel", panels)
    return {
        "code": code,
        "name": typed.text("name", "Name", required=True),
        "panel_id": panels.get(panel),
        "material": typed.text("material", "Material"),
        "hours": typed.quantity("hours", "duration_h", "Hours of one print"),
        "grams": typed.quantity("grams", "mass_g", "Grams of one print"),
        "figures_mark": typed.mark("figures_mark"),
        "note": typed.text("note", "Note"),
    }


def panel_options(session: Session) -> list[tuple[str, str]]:
    """The panels to choose from."""
    return [(code, f"{code} {name}") for code, name, _ in _panels(session)]


def _panels(session: Session) -> list[tuple[str, str, int | None]]:
    return list(session.exec(select(Panel.code, Panel.name, Panel.id).order_by(col(Panel.code))).all())
